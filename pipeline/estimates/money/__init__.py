"""What the gain returns."""
