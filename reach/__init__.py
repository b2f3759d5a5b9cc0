"""Plan a radio club's voice nets from terrain: repeater reach, simplex links, relays."""

__version__ = "0.1.0"
