"""Whether fewer passes are as good."""
