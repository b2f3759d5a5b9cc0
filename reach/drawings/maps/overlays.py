"""Classes of cells on a search grid or area raster, laid on a map."""

from __future__ import annotations

import numpy as np
from affine import Affine
from numpy.typing import NDArray

from reach.coverage.area.raster import box_in, warped
from reach.drawings.maps.picture import WEB_MERCATOR, CoverageOverlay, MercatorBox
from reach.drawings.style.palette import ChanceStep

LONGEST_SIDE_PIXELS = 1600


def laid_overlay(
    classes: NDArray[np.uint8], *, crs: str, transform: Affine, name: str, steps: tuple[ChanceStep, ...]
) -> CoverageOverlay:
    """Classes (rows, columns), 0 for nothing, brought from their projection into the map's.

    transform : from (column, row) corners to the plane of crs. A picture has at most LONGEST_SIDE_PIXELS, and
    no more than there are cells.
    """
    rows, columns = classes.shape
    t = transform
    edges = (t.c, t.f + rows * t.e, t.c + columns * t.a, t.f)
    box = MercatorBox(*box_in(WEB_MERCATOR, crs=crs, box=edges))
    wide_m, high_m = box.east_m - box.west_m, box.north_m - box.south_m
    pixel_m = max(wide_m, high_m) / min(LONGEST_SIDE_PIXELS, max(rows, columns))
    shape = (max(1, round(high_m / pixel_m)), max(1, round(wide_m / pixel_m)))
    picture = warped(classes, crs=crs, transform=t, to_crs=WEB_MERCATOR, box=box.edges_m, shape=shape)
    return CoverageOverlay(name, picture, box, steps)
