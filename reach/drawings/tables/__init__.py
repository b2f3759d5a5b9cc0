"""Answers on a terminal's screen."""
