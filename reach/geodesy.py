"""Distances, bearings and points along a path on the WGS 84 ellipsoid (pyproj's geodesics)."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pyproj import Geod

FloatArray = NDArray[np.float64]

METRES_PER_DEGREE = 111_195.0  # of a sphere of the Earth's mean radius, 6371.009 km: for rough distances only


@lru_cache(maxsize=1)
def _wgs84() -> Geod:
    return Geod(ellps="WGS84")


def distance_and_bearing(
    *,
    from_latitude_deg: ArrayLike,
    from_longitude_deg: ArrayLike,
    to_latitude_deg: ArrayLike,
    to_longitude_deg: ArrayLike,
) -> tuple[FloatArray, FloatArray]:
    """Geodesic length and starting azimuth between pairs of points.

    All four : degrees, any shapes that broadcast.
    Returns : (distance_m, bearing_deg in 0..360 clockwise from true north), broadcast shape.
    """
    lat1, lon1, lat2, lon2 = np.broadcast_arrays(
        *(
            np.asarray(v, dtype=np.float64)
            for v in (from_latitude_deg, from_longitude_deg, to_latitude_deg, to_longitude_deg)
        )
    )
    bearing, _, distance = _wgs84().inv(lon1.ravel(), lat1.ravel(), lon2.ravel(), lat2.ravel())
    return (
        np.asarray(distance, dtype=np.float64).reshape(lat1.shape),
        np.mod(np.asarray(bearing, dtype=np.float64), 360.0).reshape(lat1.shape),
    )


def destination(
    *, latitude_deg: ArrayLike, longitude_deg: ArrayLike, bearing_deg: ArrayLike, distance_m: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """The points reached from a start on a bearing after a distance: (latitude_deg, longitude_deg)."""
    lat, lon, azimuth, length = np.broadcast_arrays(
        *(np.asarray(v, dtype=np.float64) for v in (latitude_deg, longitude_deg, bearing_deg, distance_m))
    )
    out_lon, out_lat, _ = _wgs84().fwd(lon.ravel(), lat.ravel(), azimuth.ravel(), length.ravel())
    return (
        np.asarray(out_lat, dtype=np.float64).reshape(lat.shape),
        np.asarray(out_lon, dtype=np.float64).reshape(lat.shape),
    )


def points_along(
    *,
    from_latitude_deg: float,
    from_longitude_deg: float,
    to_latitude_deg: float,
    to_longitude_deg: float,
    step_m: float,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Evenly spaced points of the geodesic, both ends included, spaced at most `step_m`.

    Returns : (distance_m from the start, latitude_deg, longitude_deg), each (n,), n >= 2.
    Raises : ValueError when step_m is not above zero.
    """
    if not step_m > 0.0:
        raise ValueError(f"step_m must be above zero, not {step_m}")
    bearing, _, length = _wgs84().inv(
        from_longitude_deg, from_latitude_deg, to_longitude_deg, to_latitude_deg
    )
    intervals = max(1, int(np.ceil(length / step_m - 1e-9)))
    distance_m = np.linspace(0.0, length, intervals + 1)
    latitude, longitude = destination(
        latitude_deg=from_latitude_deg,
        longitude_deg=from_longitude_deg,
        bearing_deg=bearing,
        distance_m=distance_m,
    )
    latitude[-1], longitude[-1] = to_latitude_deg, to_longitude_deg
    return distance_m, latitude, longitude


def points_along_each(
    *,
    from_latitude_deg: ArrayLike,
    from_longitude_deg: ArrayLike,
    to_latitude_deg: ArrayLike,
    to_longitude_deg: ArrayLike,
    step_m: float,
) -> tuple[NDArray[np.int64], FloatArray, FloatArray, FloatArray]:
    """Evenly spaced points of many geodesics at once, both ends of each included, laid end to end.

    First four : (paths,) degrees. step_m : spacing at most this.
    Returns : (start (paths + 1,), path p owning elements start[p]:start[p + 1]; distance_m from each start,
        latitude_deg, longitude_deg, each (start[-1],)).
    Raises : ValueError when step_m is not above zero.
    """
    if not step_m > 0.0:
        raise ValueError(f"step_m must be above zero, not {step_m}")
    ends = (from_latitude_deg, from_longitude_deg, to_latitude_deg, to_longitude_deg)
    lat1, lon1, lat2, lon2 = (np.atleast_1d(np.asarray(v, dtype=np.float64)) for v in ends)
    length, bearing = distance_and_bearing(
        from_latitude_deg=lat1, from_longitude_deg=lon1, to_latitude_deg=lat2, to_longitude_deg=lon2
    )
    intervals = np.maximum(1, np.ceil(length / step_m - 1e-9)).astype(np.int64)
    start = np.zeros(length.size + 1, dtype=np.int64)
    np.cumsum(intervals + 1, out=start[1:])
    path = np.repeat(np.arange(length.size), intervals + 1)
    distance = (np.arange(start[-1]) - start[path]) / intervals[path] * length[path]
    lat, lon = destination(
        latitude_deg=lat1[path], longitude_deg=lon1[path], bearing_deg=bearing[path], distance_m=distance
    )
    lat[start[1:] - 1], lon[start[1:] - 1] = lat2, lon2
    return start, distance, lat, lon
