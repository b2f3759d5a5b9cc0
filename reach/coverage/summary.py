"""What a coverage map says in figures: area served, directions, members."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.coverage.grid import SiteGrid
from reach.coverage.service import AreaService
from reach.geodesy import distance_and_bearing
from reach.links.grade import Grade
from reach.stations import Station

SECTORS = 36
COUNTS_FROM = Grade.WORKABLE.readability


@dataclass(frozen=True)
class SectorService:
    """One sector of 10 degrees. served_share : share of its known cells that are served."""

    bearing_deg: float
    served_share: float


@dataclass(frozen=True)
class PlaceService:
    """A member's place. served : None when the place lies outside the circle or nothing is known there."""

    call_sign: str
    served: bool | None
    margin_db: float
    chance: float


@dataclass(frozen=True)
class AreaSummary:
    """Figures of one hub and one kind of station.

    served_km2 : cells where both directions are workable or better; grade_km2 : (grade, area) of the weaker
    direction, best first; unknown_share : share of the circle nothing is known of.
    best, worst : sectors by share served (ties: the first clockwise from north); None when nothing is known.
    places : every member with a radio path, in the order given.
    """

    served_km2: float
    circle_km2: float
    unknown_share: float
    grade_km2: tuple[tuple[Grade, float], ...]
    best: SectorService | None
    worst: SectorService | None
    places: tuple[PlaceService, ...]

    @property
    def roster_share(self) -> float:
        """Share of the members' places inside the known circle that are served; NaN when there is none."""
        known = [place.served for place in self.places if place.served is not None]
        return sum(known) / len(known) if known else float("nan")


def summarise(service: AreaService, stations: Sequence[Station]) -> AreaSummary:
    """Figures of a service map; stations : the roster (internet-linked members are left out)."""
    grid = service.grid
    inside = grid.inside()
    known = inside & ~np.isnan(service.chance)
    readability = service.readability
    served = known & (readability >= COUNTS_FROM)
    cell_km2 = grid.cell_m**2 / 1e6
    sectors = _sectors(grid, known, served)
    return AreaSummary(
        served_km2=float(np.count_nonzero(served)) * cell_km2,
        circle_km2=float(np.count_nonzero(inside)) * cell_km2,
        unknown_share=1.0 - np.count_nonzero(known) / np.count_nonzero(inside),
        grade_km2=tuple(
            (grade, float(np.count_nonzero(known & (readability == grade.readability))) * cell_km2)
            for grade in Grade
        ),
        best=max(sectors, key=lambda s: s.served_share, default=None),
        worst=min(sectors, key=lambda s: s.served_share, default=None),
        places=tuple(_place(service, station) for station in stations if station.has_radio_path),
    )


def _sectors(grid: SiteGrid, known: NDArray[np.bool_], served: NDArray[np.bool_]) -> list[SectorService]:
    width = 360.0 / SECTORS
    number = np.floor(np.mod(grid.bearing_deg() + width / 2.0, 360.0) / width).astype(np.int64) % SECTORS
    cells = np.bincount(number[known], minlength=SECTORS)
    good = np.bincount(number[served], minlength=SECTORS)
    return [SectorService(i * width, float(good[i] / cells[i])) for i in range(SECTORS) if cells[i]]


def cell_of(grid: SiteGrid, station: Station) -> tuple[int, int] | None:
    """(row, column) of the cell a station stands in; None outside the circle."""
    place, site = station.position, grid.position
    distance_m, bearing_deg = distance_and_bearing(
        from_latitude_deg=site.latitude_deg,
        from_longitude_deg=site.longitude_deg,
        to_latitude_deg=place.latitude_deg,
        to_longitude_deg=place.longitude_deg,
    )
    if distance_m > grid.radius_m:
        return None
    azimuth = np.radians(bearing_deg)
    row = grid.radius_cells - round(float(distance_m * np.cos(azimuth)) / grid.cell_m)
    column = grid.radius_cells + round(float(distance_m * np.sin(azimuth)) / grid.cell_m)
    return row, column


def _place(service: AreaService, station: Station) -> PlaceService:
    cell = cell_of(service.grid, station)
    margin = float("nan") if cell is None else float(service.weaker_margin_db[cell])
    if cell is None or np.isnan(margin):
        return PlaceService(station.call_sign, None, float("nan"), float("nan"))
    return PlaceService(
        station.call_sign,
        int(service.readability[cell]) >= COUNTS_FROM,
        margin,
        float(service.chance[cell]),
    )
