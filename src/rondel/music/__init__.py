"""Composing, the built-in instruments, and the mix: a routine in, notes and arrays out."""
