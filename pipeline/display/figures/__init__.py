"""One figure per module; each returns the Markdown that shows it."""
