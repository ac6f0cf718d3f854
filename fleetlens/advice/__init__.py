"""What to do about the findings."""
