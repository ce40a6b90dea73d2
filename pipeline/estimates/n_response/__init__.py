"""Yield on nitrogen rate: curves, optimum rates with intervals, and what follows from them."""
