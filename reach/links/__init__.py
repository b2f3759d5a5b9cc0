"""Noise, link budget, grade and chance: every pair of stations, both directions."""
