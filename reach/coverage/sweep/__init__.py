"""Path loss from one place to every cell round it, radial by radial."""
