"""The ground of a search area, and the cells of it that a site may stand in."""

from __future__ import annotations

from collections.abc import Sequence

from reach.coverage.search.grid import Candidates, SearchGrid, candidate_cells, search_grid
from reach.coverage.sweep.grid import opened_land_cover
from reach.errors import NoPlan
from reach.geodesy import destination
from reach.inputs.search_area import SearchArea
from reach.stations import Net, Position
from reach.terrain.tiles import Terrain


def searched_cells(
    net: Net, terrain: Terrain, area: SearchArea, parties: Sequence[Position]
) -> tuple[SearchGrid, Candidates]:
    """The grid of an area with the ground, and what the net's land cover puts on it, out to those it is
    searched for, and its candidate cells.

    Raises : NoPlan where no tile touches the area or no cell meets its limits; OutOfRange; ReachError when it
        would not fit into memory.
    """
    _check_over_tiles(terrain, area)
    with opened_land_cover(net.land_cover, net.clutter_heights_m) as land_cover:
        grid = search_grid(
            terrain,
            outline=area.outline,
            margin_m=area.margin_m,
            members=parties,
            cell_m=area.cell_m,
            land_cover=land_cover,
        )
    return grid, candidate_cells(grid, area.limits)


def _check_over_tiles(terrain: Terrain, area: SearchArea) -> None:
    """Refuse an area no tile touches before long work. Raises : NoPlan."""
    latitudes, longitudes = [], []
    for place in area.outline:
        for bearing_deg in (0.0, 90.0, 180.0, 270.0):
            lat, lon = destination(
                latitude_deg=place.latitude_deg,
                longitude_deg=place.longitude_deg,
                bearing_deg=bearing_deg,
                distance_m=area.margin_m,
            )
            latitudes.append(float(lat))
            longitudes.append(float(lon))
    box = (min(longitudes), min(latitudes), max(longitudes), max(latitudes))
    if any(tile.touches(*box, margin_px=1.0) for tile in terrain.tiles):
        return
    raise NoPlan(
        f"the area searched (latitude {box[1]:.3f} to {box[3]:.3f}, longitude {box[0]:.3f} to {box[2]:.3f}) "
        "lies outside the elevation tiles; add tiles that cover it, or move the polygon, the place or the "
        "distance."
    )
