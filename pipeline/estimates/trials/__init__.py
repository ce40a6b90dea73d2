"""What each trial says: its own analysis, gains by block and by site-year."""
