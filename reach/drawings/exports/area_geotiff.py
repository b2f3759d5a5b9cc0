"""An area as a GeoTIFF with every layer."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from reach.answers.area import AreaAnswer
from reach.coverage.area.raster import Layer, write_cog
from reach.coverage.area.sites import LAND
from reach.files import Existing

OF_ONE_SITE = ("SITE", "TALK_IN_MHZ", "TALK_OUT_MHZ", "PATH_MHZ", "UNKNOWN_SHARE")  # tags


def write_geotiff(found: AreaAnswer, path: Path, *, existing: Existing = Existing.KEEP) -> None:
    """One site: its own raster, every layer of it. Several: best margin, best chance, count, best server, and
    what is land, from which the answer's figures can be worked out again: cells of known land by count.

    Raises : OutputProblem.
    """
    if len(found.sites) == 1:
        own = found.sites[0].raster
        write_cog(path, own.layers, crs=own.crs, transform=own.transform, tags=own.tags, existing=existing)
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
    tags["SITES"] = " ".join(region.call_signs)
    write_cog(path, layers, crs=region.crs, transform=region.transform, tags=tags, existing=existing)
