"""The answer about tonight: one table over plain values. It asks no other room."""
