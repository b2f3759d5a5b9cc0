"""Where reports of who was really heard are kept: one SQLite file in the net folder, only ever added to."""
