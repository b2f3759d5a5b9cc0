"""An invented club on invented land in the open ocean, to try the planner without data of one's own."""
