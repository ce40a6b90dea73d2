"""What each command does, and in which order."""
