"""What a model says to a bad profile, height or frequency: which path, which value, the valid range."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from reach.errors import OutOfRange
from reach.propagation.choose import MODEL_NAMES, model_named
from reach.propagation.path_inputs import ModelLimits, prepare
from reach.terrain.profile import Profile, ProfileBatch

LIMITS = ModelLimits("test", (30.0, 6000.0), (1.0, 3000.0), (0.001, 3000.0), 3)
LINK = {"tx_height_m": 10.0, "rx_height_m": 2.0, "frequency_mhz": 146.0}


def batch(paths: int = 3, points: int = 11) -> ProfileBatch:
    return ProfileBatch.of(
        [Profile.of(np.linspace(0.0, 10e3, points), np.linspace(100.0, 200.0, points)) for _ in range(paths)]
    )


def spoilt(field: str, element: int, value: float) -> ProfileBatch:
    good = batch()
    values = getattr(good, field).copy()
    values[element] = value
    return replace(good, **{field: values})


@pytest.mark.parametrize("name", MODEL_NAMES)
@pytest.mark.parametrize(
    ("field", "element", "value", "text"),
    [
        ("ground_m", 15, np.nan, "path 1: ground at point 4 is nan m; the valid range is -500 to 9000 m"),
        ("ground_m", 25, 9500.0, "path 2: ground at point 3 is 9500 m; the valid range is -500 to 9000 m"),
        ("ground_m", 0, -600.0, "path 0: ground at point 0 is -600 m"),
        ("distance_m", 5, np.nan, "path 0: distance at point 5 is nan m"),
        ("distance_m", 30, np.inf, "path 2: distance at point 8 is inf m"),
        ("distance_m", 13, 500.0, "path 1: distance at point 2 is 500 m after 1000 m; distances must ascend"),
        ("distance_m", 14, 2e3, "path 1: distance at point 3 is 2000 m after 2000 m; distances must ascend"),
        ("distance_m", 22, 3.0, "path 2: the first distance is 3 m; a profile starts at 0"),
    ],
)
def test_bad_profiles_name_path_and_point(
    name: str, field: str, element: int, value: float, text: str
) -> None:
    with pytest.raises(OutOfRange, match=text):
        model_named(name).losses(spoilt(field, element, value), **LINK)


@pytest.mark.parametrize("name", [n for n in MODEL_NAMES if n != "itm"])  # which reads none of these
@pytest.mark.parametrize(
    ("field", "element", "value", "text"),
    [
        ("clutter_m", 12, -1.0, "path 1: clutter at point 1 is -1 m; the valid range is 0 to 200 m"),
        ("clutter_m", 32, np.nan, "path 2: clutter at point 10 is nan m; the valid range is 0 to 200 m"),
        ("zone", 13, 2, "path 1: zone at point 2 is 2; give 1 for sea, 3 for coastal land, 4 for inland"),
        ("mid_latitude_deg", 1, np.nan, "path 1: latitude of the middle is nan degrees; .* -90 to 90 deg"),
        ("distance_m", 32, np.inf, "path 2: distance at point 10 is inf m"),
        ("mid_latitude_deg", 2, 91.0, "path 2: latitude of the middle is 91 degrees"),
    ],
)
def test_bad_clutter_zones_latitudes_and_ends(
    name: str, field: str, element: int, value: float, text: str
) -> None:
    with pytest.raises(OutOfRange, match=text):
        model_named(name).losses(spoilt(field, element, value), **LINK)


def test_advice_is_given_where_it_helps() -> None:
    """Below 30 MHz there is a model to use; above 6 GHz there is none to name."""
    with pytest.raises(OutOfRange, match=r"is 10 MHz; .*; use typical_land below 30 MHz$"):
        model_named("p1812").losses(batch(), **{**LINK, "frequency_mhz": 10.0})
    for frequency_mhz in (10_000.0, float("nan")):
        with pytest.raises(OutOfRange, match=r"valid from 30 to 6000 MHz$"):
            model_named("p1812").losses(batch(), **{**LINK, "frequency_mhz": frequency_mhz})


@pytest.mark.parametrize("name", MODEL_NAMES)
@pytest.mark.parametrize(
    ("wrong", "text"),
    [
        (
            {"tx_height_m": [10.0, -2.0, 10.0]},
            r"path 1: transmitter antenna height above ground is -2 m; .* valid from",
        ),
        (
            {"rx_height_m": float("nan")},
            r"path 0: receiver antenna height above ground is nan m; .* valid from",
        ),
        ({"frequency_mhz": [146.0, 146.0, 0.5]}, r"path 2: frequency is 0\.5 MHz; .* is valid from"),
        (
            {"rx_height_m": [1.0, 2.0]},
            r"has shape \(2,\); give one value or one for each of the 3 paths",
        ),
    ],
)
def test_bad_links_name_path_value_and_range(name: str, wrong: dict[str, object], text: str) -> None:
    with pytest.raises(OutOfRange, match=text):
        model_named(name).losses(batch(), **{**LINK, **wrong})  # type: ignore[arg-type]


@pytest.mark.parametrize("name", ["single_edge", "cascaded_edges", "bullington", "delta_bullington", "p1812"])
def test_too_few_points(name: str) -> None:
    with pytest.raises(OutOfRange, match=r"path 0: profile has 2 points; \w+ needs at least 3"):
        model_named(name).loss(Profile.of([0.0, 5000.0], [1.0, 2.0]), **LINK)


def test_too_long_a_path() -> None:
    far = Profile.of(np.linspace(0.0, 4e6, 20), np.zeros(20))
    with pytest.raises(
        OutOfRange, match=r"path 0: path length is 4000 km; p1812 is valid from 0\.001 to 3000 km"
    ):
        model_named("p1812").loss(far, **LINK)


def test_arrays_of_different_length() -> None:
    good = batch()
    with pytest.raises(OutOfRange, match="ground has 32 points, distance has 33"):
        prepare(replace(good, ground_m=good.ground_m[:-1]), LIMITS, **LINK)


def test_a_batch_that_is_cut_wrongly() -> None:
    good = batch()
    with pytest.raises(OutOfRange, match="batch of 33 points is cut at 0 to 22"):
        prepare(replace(good, start=good.start[:-1]), LIMITS, **LINK)


@pytest.mark.parametrize("name", MODEL_NAMES)
def test_an_empty_batch_gives_empty_losses(name: str) -> None:
    found = model_named(name).losses(ProfileBatch.of([]), **LINK)
    assert found.loss_db.shape == found.free_space_db.shape == (0,)


def test_scalars_and_arrays_come_out_one_value_a_path() -> None:
    found = prepare(batch(), LIMITS, tx_height_m=10, rx_height_m=[1, 2, 3], frequency_mhz=np.full(3, 146))
    assert found.tx_height_m.tolist() == [10.0, 10.0, 10.0]
    assert found.rx_height_m.tolist() == [1.0, 2.0, 3.0]
    assert found.length_km.tolist() == [10.0, 10.0, 10.0]
