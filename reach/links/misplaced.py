"""Stations that stand where there is no tile while a common slip of the pen would put them on one."""

from __future__ import annotations

import numpy as np

from reach.errors import Fault
from reach.inputs.places import likely_slips
from reach.stations import Net, Position
from reach.terrain.tiles import Terrain

NEAR_M = 200_000.0


def misplaced(net: Net, terrain: Terrain) -> tuple[Fault, ...]:
    """Members and repeaters outside every tile whose place lies on one once swapped or with a sign turned.

    No tile is missing for these: the position is wrong. Places within 200 km of a tile are left out; there a
    tile may well be missing.
    """
    everyone = [
        *(("roster.csv", s.call_sign, s.position) for s in net.stations if s.has_radio_path),
        *(("net.toml", r.call_sign, r.position) for r in net.repeaters),
    ]
    places = np.array([(p.latitude_deg, p.longitude_deg) for _, _, p in everyone]).reshape(-1, 2)
    outside = np.isnan(terrain.step_m_at(places[:, 0], places[:, 1]))
    faults: list[Fault] = []
    for i in np.flatnonzero(outside):
        file, call_sign, position = everyone[i]
        if _near_a_tile(terrain, position):
            continue
        slips = likely_slips(position.latitude_deg, position.longitude_deg)
        found = np.isfinite(terrain.step_m_at([lat for _, lat, _ in slips], [lon for _, _, lon in slips]))
        if found.any():
            cause, latitude, longitude = slips[int(np.flatnonzero(found)[0])]
            faults.append(
                Fault(
                    f"{call_sign} stands at {position.latitude_deg:.5f}, {position.longitude_deg:.5f}, where "
                    f"there is no tile; {cause}",
                    f"{latitude:.5f}, {longitude:.5f} would lie on the tiles: correct the position",
                    file=file,
                )
            )
    return tuple(faults)


def _near_a_tile(terrain: Terrain, position: Position) -> bool:
    lat, lon = position.latitude_deg, position.longitude_deg
    return any(
        tile.touches(lon, lat, lon, lat, margin_px=NEAR_M / tile.resolution_m) for tile in terrain.tiles
    )
