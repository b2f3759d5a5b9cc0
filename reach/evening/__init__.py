"""One evening's net as it happens: what was noted, on disk before it counts, and what it adds up to."""
