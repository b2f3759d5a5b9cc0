"""Decisions on graphs of links."""
