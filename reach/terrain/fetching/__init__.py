"""Elevation and land cover from open data sets: the part a net needs, when asked."""
