"""The web floor: thin pages. A view parses, calls one use case and paints; it decides nothing and writes nothing."""
