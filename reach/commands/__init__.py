"""The `reach` command, one file a question; the only place that prints, reads arguments or the clock.

Inside a command's function, and only there, modules are imported where they are used: with numba, rasterio
and the rest loaded at the top `reach COMMAND --help` takes 1.2 s, this way 0.15 s (measured on two cores).
"""
