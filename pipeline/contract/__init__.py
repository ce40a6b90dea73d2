"""What the delivered words mean: table declarations, the checks that follow from them, exact units."""
