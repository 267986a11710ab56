"""Values to and from files, and the one forecast document that files, screens and phones share."""
