"""Estimates to ink: numbers, sentences, tables and figures. Nothing is computed here beyond rounding."""
