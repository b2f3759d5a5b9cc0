"""An area as a GeoTIFF with every layer, and in its tags the headline and how to count it from the bands."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from reach.answers.area import AreaAnswer
from reach.coverage.area.raster import Layer, write_cog
from reach.coverage.area.sites import LAND
from reach.files import Existing

OF_ONE_SITE = ("SITE", "TALK_IN_MHZ", "TALK_OUT_MHZ", "PATH_MHZ", "UNKNOWN_SHARE", "HEARD")  # tags

_COUNTED = "Areas are numbers of cells times CELL_M x CELL_M; shares are of the known land."
FIGURES_OF_ONE = (
    "Known land: land = 1 and chance not NaN. Worked both ways: talk_in_margin and talk_out_margin >= 0. "
    f"Only heard by the station in the cell: talk_out_margin >= 0 and talk_in_margin < 0. {_COUNTED}"
)
FIGURES_OF_SEVERAL = (
    "Known land: land = 1 and best_margin not NaN. Works any of them: served_by >= 1; two or more: served_by "
    f">= 2; none: served_by = 0. Best served by a site: best_site = its number in SITES, from 0. {_COUNTED}"
)


def write_geotiff(found: AreaAnswer, path: Path, *, existing: Existing = Existing.KEEP) -> None:
    """One site: its own raster, every layer of it. Several: best margin, best chance, count, best server, and
    what is land, from which the answer's figures can be worked out again: cells of known land by count.

    The tags hold the headline, and how its figures are counted from the bands. Raises : OutputProblem.
    """
    said = {"HEADLINE": found.headline, "RADIUS_KM": f"{found.work.radius_m / 1000.0:g}"}
    if len(found.sites) == 1:
        own = found.sites[0].raster
        tags = {**own.tags, **said, "FIGURES": FIGURES_OF_ONE}
        write_cog(path, own.layers, crs=own.crs, transform=own.transform, tags=tags, existing=existing)
        return
    region = found.region
    layers = (
        Layer("best_margin", "dB over workable", region.margin_db),
        Layer("best_chance", "0 to 1", region.chance),
        Layer("served_by", "sites", np.where(region.known, region.served_by, np.nan).astype(np.float32)),
        Layer(
            "best_site",
            "number in SITES from 0, -1 none",
            np.where(region.known, region.best_site, np.nan).astype(np.float32),
        ),
        Layer(LAND, "1 land, 0 sea", np.where(region.known, region.land, np.nan).astype(np.float32)),
    )
    of_first = found.sites[0].raster.tags
    tags = {name: value for name, value in of_first.items() if not name.startswith(OF_ONE_SITE)}
    tags |= {"SITES": " ".join(region.call_signs), **said, "FIGURES": FIGURES_OF_SEVERAL}
    write_cog(path, layers, crs=region.crs, transform=region.transform, tags=tags, existing=existing)
