"""Finished answers as tables, maps, papers, files and pictures; computes no radio."""
