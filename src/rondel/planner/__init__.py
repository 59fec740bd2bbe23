"""The only place that knows search: a brief and a craft in, a routine or reasons out."""
