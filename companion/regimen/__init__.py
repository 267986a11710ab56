"""What the practice signed (plan, clearance) and what the nights say about it. Knows no forecast and no store."""
