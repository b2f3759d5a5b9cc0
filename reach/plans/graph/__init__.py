"""The reach graph and the ways through it."""
