"""The window of ground asked for under a map."""

from __future__ import annotations

import numpy as np
import pytest
from affine import Affine

from reach.drawings.maps.ground import LONGEST_SIDE_PIXELS, WINDOW_SHAPE, mercator_m, places_of, relief_around
from reach.stations import Position
from reach.terrain.tiles import ElevationGrid


class LevelGround:
    """Answers like a Terrain, with flat ground, and remembers what it was asked."""

    credits: tuple[str, ...] = ()

    def window(self, bounds, crs, resolution_m, **how: int):
        self.bounds, self.crs = bounds, crs
        left, bottom, right, top = bounds
        self.shape = (round((top - bottom) / resolution_m) + 1, round((right - left) / resolution_m) + 1)
        transform = Affine(resolution_m, 0, left, 0, -resolution_m, top)
        return ElevationGrid(np.full(self.shape, 7.0, dtype=np.float32), transform, crs, resolution_m)


@pytest.mark.parametrize(
    "places",
    [
        [(41.0, -38.0)],
        [(41.0, -38.0), (41.6, -38.0)],
        [(41.0, -38.4), (41.0, -37.6)],
        [(41.0, -38.4), (41.3, -37.6), (41.2, -38.0)],
    ],
)
def test_every_place_lies_well_inside_a_box_shaped_like_a_window(places) -> None:
    ground, positions = LevelGround(), [Position(*place) for place in places]
    picture = relief_around(ground, positions)
    left, bottom, right, top = ground.bounds
    for position in positions:
        x, y = mercator_m(position)
        assert left + 4_000 < x < right - 4_000 and bottom + 4_000 < y < top - 4_000
    if len(places) > 1:
        assert 0.85 * WINDOW_SHAPE < (right - left) / (top - bottom) < 1.2 * WINDOW_SHAPE
    assert ground.crs == "EPSG:3857" and max(ground.shape) <= LONGEST_SIDE_PIXELS + 2
    assert picture.box.west_m == left and picture.box.north_m == top


def test_places_are_checked_against_pyproj() -> None:
    from pyproj import Transformer

    forward = Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)
    assert mercator_m(Position(41.25, -38.125)) == pytest.approx(forward.transform(-38.125, 41.25), abs=1e-6)


def test_internet_members_do_not_stretch_the_map(invented) -> None:
    net = invented.net()
    on_the_air = sum(1 for s in net.stations if s.has_radio_path)
    assert len(places_of(net)) == on_the_air + len(net.repeaters)


def test_no_place_is_refused() -> None:
    with pytest.raises(ValueError, match="no place"):
        relief_around(LevelGround(), [])


def test_pages_of_one_net_share_their_ground() -> None:
    ground, places = LevelGround(), [Position(41.0, -38.4), Position(41.3, -37.6)]
    first = relief_around(ground, places)
    del ground.bounds  # asked for again, it would be there again
    assert relief_around(ground, list(places)) is first and not hasattr(ground, "bounds")
    assert relief_around(ground, places[:1]).box != first.box
    assert relief_around(LevelGround(), places) is not first
