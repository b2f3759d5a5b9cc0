"""Distances, bearings and path points against geographiclib (PyPI)."""

from __future__ import annotations

import numpy as np
import pytest

from reach.geodesy import destination, distance_and_bearing, points_along, points_along_each
from reach.stations import Position
from reach.terrain.sampling import sample_profile

Geodesic = pytest.importorskip("geographiclib.geodesic").Geodesic
WGS84 = Geodesic.WGS84

PAIRS = np.array(
    [
        (41.2, -38.3, 41.7, -37.6),  # across the demo land
        (41.5, -38.0, 41.5, -37.9),
        (60.1, 20.0, 60.4, 19.2),
        (-33.9, 151.1, -33.2, 151.9),
        (0.1, 10.0, -0.3, 10.4),  # across the equator
        (65.0, 179.8, 65.2, -179.7),  # across the date line
        (78.2, 15.6, 78.9, 12.0),
    ]
)


def test_length_and_bearing() -> None:
    lat1, lon1, lat2, lon2 = PAIRS.T
    length, bearing = distance_and_bearing(
        from_latitude_deg=lat1, from_longitude_deg=lon1, to_latitude_deg=lat2, to_longitude_deg=lon2
    )
    for i, pair in enumerate(PAIRS):
        reference = WGS84.Inverse(*pair)
        assert length[i] == pytest.approx(reference["s12"], abs=1e-6)  # both state nanometre accuracy
        assert bearing[i] == pytest.approx(reference["azi1"] % 360.0, abs=1e-9)


def test_a_published_length() -> None:
    # JFK to LHR, the example in the geographiclib documentation ("5551.759 km"), from memory
    length, _ = distance_and_bearing(
        from_latitude_deg=40.6, from_longitude_deg=-73.8, to_latitude_deg=51.6, to_longitude_deg=-0.5
    )
    assert length == pytest.approx(5_551_759.4, abs=0.1)


def test_destination() -> None:
    for lat1, lon1, lat2, lon2 in PAIRS:
        reference = WGS84.Inverse(lat1, lon1, lat2, lon2)
        lat, lon = destination(
            latitude_deg=lat1, longitude_deg=lon1, bearing_deg=reference["azi1"], distance_m=reference["s12"]
        )
        assert lat == pytest.approx(lat2, abs=1e-11)
        assert (lon - lon2 + 180.0) % 360.0 == pytest.approx(180.0, abs=1e-10)


@pytest.mark.parametrize("pair", PAIRS.tolist())
def test_points_along(pair: list[float]) -> None:
    lat1, lon1, lat2, lon2 = pair
    line = WGS84.InverseLine(lat1, lon1, lat2, lon2)
    distance, lat, lon = points_along(
        from_latitude_deg=lat1,
        from_longitude_deg=lon1,
        to_latitude_deg=lat2,
        to_longitude_deg=lon2,
        step_m=997.0,
    )
    assert distance[0] == 0.0 and distance[-1] == pytest.approx(line.s13, abs=1e-6)
    assert np.diff(distance).max() <= 997.0
    for d, y, x in zip(distance, lat, lon, strict=True):
        reference = line.Position(d)
        assert y == pytest.approx(reference["lat2"], abs=1e-10)
        assert (x - reference["lon2"] + 180.0) % 360.0 == pytest.approx(180.0, abs=1e-9)


def test_points_along_each_path_at_once() -> None:
    lat1, lon1, lat2, lon2 = PAIRS.T
    start, distance, lat, lon = points_along_each(
        from_latitude_deg=lat1,
        from_longitude_deg=lon1,
        to_latitude_deg=lat2,
        to_longitude_deg=lon2,
        step_m=997.0,
    )
    assert start[0] == 0 and start[-1] == distance.size == lat.size == lon.size
    for p, pair in enumerate(PAIRS.tolist()):
        line = WGS84.InverseLine(*pair)
        part = slice(int(start[p]), int(start[p + 1]))
        assert distance[part][0] == 0.0 and distance[part][-1] == pytest.approx(line.s13, abs=1e-6)
        for d, y, x in zip(distance[part], lat[part], lon[part], strict=True):
            reference = line.Position(d)
            assert y == pytest.approx(reference["lat2"], abs=1e-10)
            assert (x - reference["lon2"] + 180.0) % 360.0 == pytest.approx(180.0, abs=1e-9)


class PlaneOfLatitudeAndLongitude:
    """Stands in for tiles: 'ground' that tells where a sample was taken."""

    def __init__(self, weight_lat: float, weight_lon: float) -> None:
        self.weights = (weight_lat, weight_lon)

    def sample(self, lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
        return self.weights[0] * lat + self.weights[1] * np.mod(lon, 360.0)

    def step_m_at(self, lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
        return np.full(np.shape(lat), 30.0)


@pytest.mark.parametrize("pair", PAIRS.tolist())
def test_profile_points_lie_on_the_geodesic(pair: list[float]) -> None:
    """Points are read off chords of 500 m, in latitude and in longitude: sagitta 4.9 mm times tan(latitude)
    each at most, so within 6.5 mm at 45 degrees and 3.3 cm at 79.
    """
    lat1, lon1, lat2, lon2 = pair
    line = WGS84.InverseLine(lat1, lon1, lat2, lon2)
    ends = Position(lat1, lon1), Position(lat2, lon2)
    north = sample_profile(PlaneOfLatitudeAndLongitude(1.0, 0.0), *ends)  # type: ignore[arg-type]
    east = sample_profile(PlaneOfLatitudeAndLongitude(0.0, 1.0), *ends)  # type: ignore[arg-type]
    metres_per_degree = 111_319.5
    for i in range(0, north.points, 41):
        reference = line.Position(float(north.distance_m[i]))
        dy = (north.ground_m[i] - reference["lat2"]) * metres_per_degree
        dx = (east.ground_m[i] - reference["lon2"] % 360.0) * metres_per_degree * np.cos(np.radians(lat1))
        assert np.hypot(dx, dy) < 0.0065 * max(1.0, abs(np.tan(np.radians(max(lat1, lat2))))), i
