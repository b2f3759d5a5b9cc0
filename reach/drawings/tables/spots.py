"""The nearest spots to drive to on one screen."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.table import Table

from reach.answers.spots import SpotsAnswer
from reach.drawings.style.cautions import SHORT
from reach.drawings.style.words import signed
from reach.drawings.tables.terminal import answer, notes_text, quiet_table
from reach.inputs.locators import coordinates, locator_of
from reach.plans.sites.nearest_spot import NearestSpot

_COLUMNS = (
    ("into", "left"), ("spot", "left"), ("km", "right"), ("bearing", "right"),
    ("latitude, longitude", "left"), ("locator", "left"), ("ground m", "right"), ("spare dB", "right"),
)  # fmt: skip


def spots_screen(found: SpotsAnswer) -> list[RenderableType]:
    """What `reach sites --for` says."""
    return [
        answer(found.headline),
        notes_text([""]),
        _spot_table(found.spots),
        notes_text(["", *found.warnings, *found.in_short, SHORT]),
    ]


def _spot_table(spots: Sequence[NearestSpot]) -> Table:
    rows = [
        (
            spot.hub,
            kind,
            f"{place.distance_m / 1000.0:.2f}",
            f"{place.bearing_deg:.0f}°",
            coordinates(place.position),
            locator_of(place.position, characters=8),
            f"{place.elevation_m:.0f}",
            signed(place.spare_db, 1),
        )
        for spot in spots
        for kind, place in (("nearest", spot), ("with 6 dB to spare", spot.comfortable))
        if place is not None
    ]
    return quiet_table("Where to drive to", _COLUMNS, rows)
