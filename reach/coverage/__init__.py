"""The same budget for every cell of an area."""
