"""Profiles along geodesics: place of the points, heights, gaps, messages, chunks."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reach.errors import MissingTerrain
from reach.geodesy import points_along
from reach.stations import Position
from reach.terrain.sampling import (
    missing_cells_of,
    path_gaps,
    profile_chunks,
    sample_profile,
    sample_profiles,
)
from reach.terrain.tiles import Terrain

GeoTiff = Callable[..., Path]
A, B = Position(41.6, -71.9), Position(41.9, -71.6)


def slope(lat: Any, lon: Any) -> Any:
    return 300.0 + 500.0 * (lat - 41.0) + 400.0 * (lon + 72.0)


@pytest.fixture
def geotiff(geotiff_of: GeoTiff) -> GeoTiff:
    return partial(geotiff_of, surface=slope)


def test_heights_along_the_geodesic(geotiff: GeoTiff) -> None:
    with Terrain.open([geotiff("a.tif")]) as terrain:
        profile = sample_profile(terrain, A, B, step_m=100.0)
    distance, lat, lon = points_along(
        from_latitude_deg=41.6,
        from_longitude_deg=-71.9,
        to_latitude_deg=41.9,
        to_longitude_deg=-71.6,
        step_m=100.0,
    )
    np.testing.assert_allclose(profile.distance_m, distance, atol=1e-6)
    # points read off 500 m chords lie within 5 mm; the slope is at most 7 m a kilometre
    np.testing.assert_allclose(profile.ground_m, slope(lat, lon), atol=1e-3)
    assert profile.mid_latitude_deg == pytest.approx(41.75, abs=0.01)
    assert profile.gaps_m == 0.0


def test_step_is_a_pixel_of_the_finest_tile_on_the_path(geotiff: GeoTiff) -> None:
    folder = geotiff("coarse.tif").parent
    geotiff("fine.tif", west=-71.8, north=41.8, columns=100, rows=100, pixel_deg=1 / 2000)
    with Terrain.open([folder]) as terrain:
        crossing = sample_profile(terrain, A, B)
        beside = sample_profile(terrain, Position(41.55, -71.9), Position(41.55, -71.6))
    assert np.diff(crossing.distance_m).max() == pytest.approx(111_195 / 2000, rel=0.01)
    intervals = np.ceil(beside.length_m / (111_195 / 120))
    assert np.diff(beside.distance_m) == pytest.approx(beside.length_m / intervals)


def test_batch_equals_single_paths_and_chunks(geotiff: GeoTiff) -> None:
    rng = np.random.default_rng(5)
    places = [Position(*xy) for xy in rng.uniform((41.52, -71.98), (41.98, -71.52), (12, 2))]
    pairs = [(a, b) for a in places for b in places if a is not b]
    with Terrain.open([geotiff("a.tif")]) as terrain:
        whole = sample_profiles(terrain, pairs, step_m=200.0)
        seen: list[tuple[int, int]] = []
        parts = list(
            profile_chunks(
                terrain, pairs, step_m=200.0, points_per_chunk=700, progress=lambda d, n: seen.append((d, n))
            )
        )
        assert len(parts) > 5 and [first for first, _ in parts] == list(
            np.cumsum([0] + [len(b) for _, b in parts])[:-1]
        )
        assert all(batch.ground_m.size <= 700 for _, batch in parts)
        assert seen[-1] == (len(pairs), len(pairs)) and seen == sorted(seen)
        joined = np.concatenate([batch.ground_m for _, batch in parts])
        np.testing.assert_array_equal(joined, whole.ground_m)
        assert len(whole) == len(pairs)
        for i in (0, 17, 131):
            alone = sample_profile(terrain, *pairs[i], step_m=200.0)
            np.testing.assert_allclose(whole[i].ground_m, alone.ground_m, atol=1e-9)
            np.testing.assert_allclose(whole[i].distance_m, alone.distance_m, atol=1e-9)


def test_no_pairs_make_an_empty_batch(geotiff: GeoTiff) -> None:
    with Terrain.open([geotiff("a.tif")]) as terrain:
        assert len(sample_profiles(terrain, [])) == 0


def test_one_address_gives_a_short_flat_path(geotiff: GeoTiff) -> None:
    with Terrain.open([geotiff("a.tif")]) as terrain:
        profile = sample_profile(terrain, A, A)
    assert profile.length_m == 10.0
    np.testing.assert_allclose(profile.ground_m, slope(41.6, -71.9), atol=1e-3)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    ends=st.tuples(
        st.floats(41.52, 41.98), st.floats(-71.98, -71.52), st.floats(41.52, 41.98), st.floats(-71.98, -71.52)
    )
)
def test_walking_back_meets_the_same_ground(
    geotiff: GeoTiff, ends: tuple[float, float, float, float]
) -> None:
    rough = np.random.default_rng(9).random((60, 60)) * 400.0
    a, b = Position(*ends[:2]), Position(*ends[2:])
    with Terrain.open([geotiff("a.tif", surface=lambda y, x: rough)]) as terrain:
        there, back = sample_profile(terrain, a, b), sample_profile(terrain, b, a)
    np.testing.assert_allclose(
        there.ground_m, back.ground_m[::-1], atol=0.02
    )  # centimetres sideways, 0.6 m/m at most
    np.testing.assert_allclose(there.distance_m, back.length_m - back.distance_m[::-1], atol=1e-6)


# gaps ----------------------------------------------------------------------------------------------------


def with_hole(geotiff: GeoTiff, width_px: int) -> Path:
    """Pixels of 1/3600 degree (23 m across here), a hole the whole height, width_px wide."""
    holes = np.zeros((400, 400), dtype=bool)
    holes[:, 200 : 200 + width_px] = True
    return geotiff("a.tif", columns=400, rows=400, pixel_deg=1 / 3600, holes=holes, nodata=-32768)


WEST, EAST = Position(41.95, -71.99), Position(41.95, -71.90)


def test_short_void_is_filled_linearly_and_counted(geotiff: GeoTiff) -> None:
    with Terrain.open([with_hole(geotiff, 4)]) as terrain:
        profile = sample_profile(terrain, WEST, EAST, step_m=10.0)
    lat, lon = 41.95, -71.99 + 0.09 * profile.distance_m / profile.length_m
    np.testing.assert_allclose(profile.ground_m, slope(lat, lon), atol=0.02)
    pixel_m = 111_320 / 3600 * np.cos(np.radians(41.95))
    assert profile.gaps_m == pytest.approx(5 * pixel_m, abs=20.0)  # centre to centre across 4 holes


def test_long_void_is_missing_terrain(geotiff: GeoTiff) -> None:
    with (
        Terrain.open([with_hole(geotiff, 12)]) as terrain,
        pytest.raises(
            MissingTerrain,
            match=r"path QK1ABC to QK1XYZ: no elevation 3\.8 km along .* at 41\.95\d+, -71\.94\d+; .*N41W072",
        ),
    ):
        sample_profile(terrain, WEST, EAST, label=("QK1ABC", "QK1XYZ"))


def test_longest_gap_is_a_choice(geotiff: GeoTiff) -> None:
    with Terrain.open([with_hole(geotiff, 12)]) as terrain:
        assert sample_profile(terrain, WEST, EAST, longest_gap_m=400.0).gaps_m > 250.0


def test_leaving_the_tiles_names_the_cell_and_counts_paths(geotiff: GeoTiff) -> None:
    outside = Position(42.3, -71.7)
    with (
        Terrain.open([geotiff("a.tif")]) as terrain,
        pytest.raises(
            MissingTerrain, match=r"\(1 more paths? lacks? ground too\); add tiles that cover N42W072\.$"
        ),
    ):
        sample_profiles(terrain, [(A, B), (A, outside), (outside, B)])


def test_a_void_at_an_end_is_never_filled(geotiff: GeoTiff) -> None:
    holes = np.zeros((60, 60), dtype=bool)
    holes[:, :10] = True
    with (
        Terrain.open([geotiff("a.tif", holes=holes, nodata=-32768)]) as terrain,
        pytest.raises(MissingTerrain, match=r"no elevation where .* stands, at .*, or correct the position"),
    ):
        sample_profile(terrain, Position(41.7, -71.95), B, longest_gap_m=1e6)


def test_step_must_be_above_zero(geotiff: GeoTiff) -> None:
    with Terrain.open([geotiff("a.tif")]) as terrain, pytest.raises(ValueError, match="above zero"):
        sample_profile(terrain, A, B, step_m=0.0)


def test_paths_without_ground_are_told_with_their_cells(geotiff_of: Callable[..., Path]) -> None:
    path = geotiff_of("a.tif", surface=lambda lat, lon: 0.0 * lat * lon, columns=120, rows=120)  # N41W072
    inside, other = Position(41.1, -71.9), Position(41.9, -71.1)
    north, far = Position(42.2, -71.5), Position(10.0, 10.0)
    with Terrain.open([path]) as terrain:
        assert list(path_gaps(terrain, [(inside, other)])) == []
        first, second = path_gaps(terrain, [(inside, other), (other, north), (far, far)])
    assert (first.path, second.path) == (1, 2)
    assert missing_cells_of([first, second]) == ("N10E010", "N42W072")
    assert first.latitude_deg == pytest.approx(42.0, abs=0.02) and 0.0 < first.at_m < first.length_m


def test_a_path_asked_for_twice_is_the_same_both_times(geotiff_of: Callable[..., Path]) -> None:
    path = geotiff_of("a.tif", surface=lambda lat, lon: 1e3 * (lat - 41.5) * (lon + 72.0))
    a, b, c = Position(41.9, -71.9), Position(41.7, -71.6), Position(41.6, -71.95)
    with Terrain.open([path]) as terrain:
        apart = [sample_profile(terrain, *pair) for pair in [(a, b), (a, c), (a, b), (b, a)]]
        together = sample_profiles(terrain, [(a, b), (a, c), (a, b), (b, a)])
    for number, alone in enumerate(apart):
        for name in ("distance_m", "ground_m", "clutter_m", "mid_latitude_deg"):
            assert np.array_equal(getattr(together[number], name), getattr(alone, name))


def test_a_gap_is_told_where_it_is_each_time_it_is_met(geotiff_of: Callable[..., Path]) -> None:
    path = geotiff_of("a.tif", surface=lambda lat, lon: 100.0 + 0.0 * lat * lon)
    a, b, outside = Position(41.9, -71.9), Position(41.7, -71.6), Position(41.7, -71.0)
    with Terrain.open([path]) as terrain:
        gaps = list(path_gaps(terrain, [(a, b), (a, outside), (a, b), (a, outside), (b, outside)]))
        alone = list(path_gaps(terrain, [(a, outside), (b, outside)]))
    assert [gap.path for gap in gaps] == [1, 3, 4]
    assert [gap.at_m for gap in gaps] == [alone[0].at_m, alone[0].at_m, alone[1].at_m]
