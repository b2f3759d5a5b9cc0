"""Answers for machines: CSV, JSON, GeoJSON, KML, GPX, calendar."""
