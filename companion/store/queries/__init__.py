"""The queries, by noun. They never commit."""
