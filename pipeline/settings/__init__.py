"""program.yml, read with its line numbers."""
