"""Who is told next and when, until a person has taken the alert; when the practice is open; whom else to call."""
