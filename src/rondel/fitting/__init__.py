"""Fitting: takes cut and retimed so that hands land on the beat. Pure; nothing is read here."""
