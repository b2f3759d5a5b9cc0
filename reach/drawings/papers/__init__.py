"""The run sheet and the kit pages, as page, PDF and text."""
