"""One module a rule: what the search must respect, or what it costs to strain it."""
