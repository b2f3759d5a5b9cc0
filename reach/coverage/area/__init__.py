"""Who gets in from where, round one or several sites: margins, outlines, figures, rasters."""
