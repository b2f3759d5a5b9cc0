"""What a coverage map says in figures: area served, directions, members."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.coverage.area.service import AreaService
from reach.coverage.sweep.grid import SiteGrid, sea_cells
from reach.geodesy import distance_and_bearing
from reach.links.grade import Grade
from reach.machinery.parallel import over_tasks
from reach.stations import Station

SECTORS = 36


@dataclass(frozen=True)
class SectorService:
    """One sector of 10 degrees. served_share : share of its known land that is served."""

    bearing_deg: float
    served_share: float


@dataclass(frozen=True)
class PlaceService:
    """A member's place. inside : within the circle; served : None outside it or where nothing is known;
    margin_db, chance : NaN then."""

    call_sign: str
    inside: bool
    served: bool | None
    margin_db: float
    chance: float


@dataclass(frozen=True)
class AreaSummary:
    """Figures of one hub and one kind of station: areas in km2, of land unless they say otherwise.

    land_km2 : known land in the circle. Each of its cells is one of served_km2 (both directions workable or
    better), hears_only_km2 (hears the hub, is not heard), heard_only_km2 (the reverse) or neither_km2.
    grade_km2 : (grade, area) of the weaker direction, best first.
    sea_km2, served_sea_km2 : known sea, and what of it is served.
    circle_km2, unknown_share : the whole circle, and the share of it nothing is known of.
    best, worst : sectors by share served (ties: the first clockwise from north); None without known land.
    places : every other member with a radio path, in the order given.
    """

    land_km2: float
    served_km2: float
    hears_only_km2: float
    heard_only_km2: float
    neither_km2: float
    grade_km2: tuple[tuple[Grade, float], ...]
    sea_km2: float
    served_sea_km2: float
    circle_km2: float
    unknown_share: float
    best: SectorService | None
    worst: SectorService | None
    places: tuple[PlaceService, ...]

    @property
    def served_share(self) -> float:
        """Share of the known land that is served; NaN when there is none."""
        return self.served_km2 / self.land_km2 if self.land_km2 else float("nan")

    @property
    def roster_share(self) -> float:
        """Share of the members' places inside the known circle that are served; NaN when there is none."""
        known = [place.served for place in self.places if place.served is not None]
        return sum(known) / len(known) if known else float("nan")


def summarise(
    service: AreaService, stations: Sequence[Station], *, land: NDArray[np.bool_] | None = None
) -> AreaSummary:
    """Figures of a service map.

    stations : the roster; internet-linked members and the hub itself are left out. land : (n, n), True on
    land; None takes it from the elevation of the grid.
    """
    grid = service.grid
    inside = grid.inside()
    known = inside & ~np.isnan(service.chance)
    ashore = known & (~sea_cells(grid.elevation_m) if land is None else land)
    hears = service.talk_out_margin_db >= 0.0
    heard = service.talk_in_margin_db >= 0.0
    readability = service.readability
    cell_km2 = grid.cell_m**2 / 1e6
    sectors = _sectors(ashore, ashore & hears & heard)

    def km2(cells: NDArray[np.bool_]) -> float:
        return float(np.count_nonzero(cells)) * cell_km2

    return AreaSummary(
        land_km2=km2(ashore),
        served_km2=km2(ashore & hears & heard),
        hears_only_km2=km2(ashore & hears & ~heard),
        heard_only_km2=km2(ashore & heard & ~hears),
        neither_km2=km2(ashore & ~heard & ~hears),
        grade_km2=tuple((grade, km2(ashore & (readability == grade.readability))) for grade in Grade),
        sea_km2=km2(known & ~ashore),
        served_sea_km2=km2(known & ~ashore & hears & heard),
        circle_km2=km2(inside),
        unknown_share=1.0 - np.count_nonzero(known) / np.count_nonzero(inside),
        best=max(sectors, key=lambda s: s.served_share, default=None),
        worst=min(sectors, key=lambda s: s.served_share, default=None),
        places=tuple(
            _place(service, station)
            for station in stations
            if station.has_radio_path and station.call_sign != service.hub.call_sign
        ),
    )


def _sectors(known: NDArray[np.bool_], served: NDArray[np.bool_]) -> list[SectorService]:
    from reach.coverage.area._summary_kernel import count_by_sector  # only where it is asked: compiled

    rows = len(known)
    by_row = [np.zeros((rows, SECTORS), dtype=np.int64) for _ in range(2)]
    over_tasks(count_by_sector, rows, known, served, *by_row)
    cells, good = (counts.sum(axis=0) for counts in by_row)
    width = 360.0 / SECTORS
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
    ways = service.talk_in_margin_db, service.talk_out_margin_db
    margin = float("nan") if cell is None else float(np.minimum(*(way[cell] for way in ways)))
    if cell is None or np.isnan(margin):
        return PlaceService(station.call_sign, cell is not None, None, float("nan"), float("nan"))
    return PlaceService(
        station.call_sign,
        True,
        margin >= 0.0,
        margin,
        float(service.chance[cell]),
    )
