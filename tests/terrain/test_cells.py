"""Names of one-degree cells, and which of them a net needs and lacks."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from reach.stations import Position
from reach.terrain.cells import cell_name, missing_cells, needed_cells
from reach.terrain.tiles import Terrain


@pytest.mark.parametrize(
    ("latitude", "longitude", "name"),
    [
        (42.5, -71.5, "N42W072"),  # the SRTM convention's own example: south-west corner
        (41.2, -38.1, "N41W039"),
        (-0.5, 10.5, "S01E010"),
        (0.0, 0.0, "N00E000"),
        (-33.9, 151.2, "S34E151"),
        (10.0, 180.0, "N10W180"),
        (90.0, 5.0, "N89E005"),
    ],
)
def test_cell_name(latitude: float, longitude: float, name: str) -> None:
    assert cell_name(latitude, longitude) == name


def test_cells_between_and_not_only_at_the_ends() -> None:
    ends = [Position(41.5, -72.5), Position(41.5, -70.5)]
    assert needed_cells(ends) == ("N41W071", "N41W072", "N41W073")
    assert needed_cells(ends[:1]) == ("N41W073",)
    assert needed_cells([]) == ()


def test_missing_cells(geotiff_of: Callable[..., Path]) -> None:
    path = geotiff_of("a.tif", surface=lambda lat, lon: 0.0 * lat * lon, columns=120, rows=120)  # N41W072
    with Terrain.open([path]) as terrain:
        inside = [Position(41.1, -71.9), Position(41.9, -71.1)]
        assert missing_cells(terrain, inside) == ()
        assert missing_cells(terrain, [*inside, Position(42.2, -71.5)]) == ("N42W072",)
        assert missing_cells(terrain, [Position(10.0, 10.0)]) == ("N10E010",)
