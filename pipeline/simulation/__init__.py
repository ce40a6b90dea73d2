"""Simulated nitrogen-trial programs with known truth, for the demo, for tests and for calibration."""
