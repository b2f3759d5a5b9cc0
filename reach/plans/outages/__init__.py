"""What is left when repeaters, the mains or stations are gone, and what would help."""
