"""Colours, symbols, words and cautions: said once for everything that is drawn."""
