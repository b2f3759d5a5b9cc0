"""CORINE Land Cover: the cut that ships inside pycraf (PyPI), classes, categories and what they cost.

CORINE 2018 (Copernicus Land Monitoring Service) at 100 m in EPSG:3035, level-3 codes 111 to 324, some 37 by
29 km near 50.5 N; read from the installed package.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from pyproj import Transformer

from reach.propagation.choose import model_named
from reach.terrain.clutter import CORINE, Clutter, LandCover
from reach.terrain.profile import Profile

pycraf = pytest.importorskip("pycraf", reason="pycraf is not installed")
FOUND = sorted((Path(pycraf.__file__).parent / "pathprof" / "tests").rglob("CLC2018*cut*.tif"))
pytestmark = pytest.mark.skipif(not FOUND, reason="this pycraf ships no CORINE cut")


def places(every: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Codes of pixels, rasterio's own reading, and their middles: latitude, longitude."""
    with rasterio.open(FOUND[0]) as data:
        codes = data.read(1).astype(int)
        rows, columns = np.mgrid[3 : data.height : every, 3 : data.width : every]
        x, y = data.xy(rows.ravel(), columns.ravel())
        lon, lat = Transformer.from_crs(data.crs, "EPSG:4326", always_xy=True).transform(
            np.array(x), np.array(y)
        )
    return codes[rows, columns].ravel(), np.asarray(lat), np.asarray(lon)


def test_every_place_has_its_class_and_the_class_its_category() -> None:
    """Level-3 nomenclature: 1xx built, 2xx farmed, 31x forest, 32x scrub and grass, 5xx water."""
    codes, lat, lon = places(29)
    inside = (codes > 0) & (codes < 999)
    assert inside.sum() > 100
    with LandCover(FOUND[0]) as land:
        np.testing.assert_array_equal(land.codes(lat, lon)[inside], codes[inside])
        heights_m = land.surrounding_height_m(lat, lon)
        assert land.warnings == ()
    assert set(heights_m[np.isin(codes, (311, 312, 313))]) == {15.0}
    assert set(heights_m[np.isin(codes, (211, 231))]) == {0.0}
    assert set(heights_m[codes == 112]) == {10.0}
    assert set(np.unique(codes[inside])) <= CORINE.keys()


def test_all_44_classes_are_mapped() -> None:
    """The nomenclature has 44 classes on level 3 (European Environment Agency)."""
    assert len(CORINE) == 44
    assert all(category is Clutter.WATER for code, category in CORINE.items() if code >= 500)
    assert all(CORINE[code] is Clutter.URBAN_TREES for code in (311, 312, 313))
    assert CORINE[111] is Clutter.DENSE_URBAN


def test_forest_costs_what_its_height_does() -> None:
    """Straight cuts over flat ground: each loses more in the measure that it meets woods and houses."""
    model = model_named("p1812")
    link = {"tx_height_m": 25.0, "rx_height_m": 25.0, "frequency_mhz": 446.0}
    _, lat, lon = places(29)
    rng = np.random.default_rng(5)
    met = 0
    with LandCover(FOUND[0]) as land:
        for _ in range(15):
            a, b = rng.choice(lat.size, 2, replace=False)
            share = np.linspace(0.0, 1.0, 121)
            distance_m = share * 9e3
            start, ground_m = np.array([0, 121]), np.zeros(121)
            clutter_m, _ = land.along(
                lat[a] + share * (lat[b] - lat[a]),
                lon[a] + share * (lon[b] - lon[a]),
                start=start,
                distance_m=distance_m,
                ground_m=ground_m,
            )
            bare = model.loss(Profile.of(distance_m, ground_m), **link).loss_db
            covered = model.loss(Profile.of(distance_m, ground_m, clutter_m=clutter_m), **link).loss_db
            taller = model.loss(Profile.of(distance_m, ground_m, clutter_m=2.0 * clutter_m), **link).loss_db
            assert taller >= covered >= bare
            if clutter_m.max() >= 15.0:
                met += 1
                assert taller > covered + 3.0
    assert met >= 5
