"""One module for each leaf of the book: what is asked of it, and what it answers."""
