"""The page of the backup plan: its cases to switch between, on the ground of the net's own tiles."""

from __future__ import annotations

from reach.answers.backup import BackupAnswer
from reach.drawings.maps.backup_map import backup_map
from reach.drawings.maps.ground import places_of, relief_around
from reach.drawings.maps.page import OnlineTiles
from reach.terrain.tiles import Terrain


def backup_page(found: BackupAnswer, terrain: Terrain, *, online: OnlineTiles | None = None) -> str:
    """Every case of the answer. Raises : ValueError for a net without any station."""
    return backup_map(
        found.survey,
        found.cases,
        relief=relief_around(terrain, places_of(found.net)),
        notes=found.assumed,
        online=online,
        ground=terrain,
    )
