"""Listening: what is heard in a track, from its sound alone. Arrays in, plain values out."""
