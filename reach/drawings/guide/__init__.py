"""The guide: a short book for planners, with pictures of the demo."""
