"""The diary: what can be recorded, how many records become one story, and the nights derived from it."""
