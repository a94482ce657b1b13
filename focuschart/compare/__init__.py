"""What was printed against what would be printed now: changes, shifts, and whether to reprint."""
