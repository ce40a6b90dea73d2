"""Hostile input by seed: mutated deliveries and settings, kills and faults, and what is judged of each."""
