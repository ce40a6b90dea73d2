"""What to plant next, and trials ready to plant."""
