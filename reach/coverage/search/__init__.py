"""The cells a portable relay may stand in, and whom each would reach."""
