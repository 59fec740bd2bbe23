"""The built-in instruments: one module each, made of sines, noise and a room."""
