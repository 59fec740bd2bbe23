"""Watching: what hands do in a take, from how its pictures move. Pure; nothing is read here."""
