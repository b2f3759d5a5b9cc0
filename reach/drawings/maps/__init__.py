"""Answers as pages that open with no network."""
