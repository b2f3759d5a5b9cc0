"""Rec. ITU-R P.1812: path-specific prediction for terrestrial services, 30 MHz to 6 GHz.

A file for each section of the Recommendation; equation numbers are those of editions 6 to 8, whose outdoor
method is the same. `model` is what the planner calls, `path` strings the sections together.
"""
