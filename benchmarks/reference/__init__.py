"""Two plain ways to plan a routine, kept for comparison only: nothing in Rondel calls them."""
