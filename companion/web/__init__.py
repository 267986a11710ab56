"""The web floor: thin pages. A view parses, calls a use case and paints; it decides nothing and writes nothing."""
