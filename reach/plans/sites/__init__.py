"""Where a portable relay does most, and where a member can drive to."""
