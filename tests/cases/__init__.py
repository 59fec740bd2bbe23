"""Small routines written by hand, with what each rule has to say about them."""
