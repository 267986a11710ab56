"""The few words that every room shares: moments and nights, eyes, units, ids, errors."""
