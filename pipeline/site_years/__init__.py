"""What a site-year is before any yield is seen: its rainfall class, and whether it can answer a comparison."""
