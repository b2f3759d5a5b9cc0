"""How a link is said."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from reach.drawings.style.words import (
    clearance_words,
    distance_words,
    microvolt_figure,
    number,
    quality_words,
    signed,
    worst_point_words,
)
from reach.links.grade import GRADES
from reach.propagation.clearance import PathClearance


def test_quality_says_chance_grade_margin_signal() -> None:
    # -91 dBm on 2 m: S9 is -93 dBm above 30 MHz (IARU Region 1, R.1)
    said = quality_words(margin_db=6.2, chance=0.88, received_dbm=-91.0, frequency_mhz=146.0)
    assert said == "likely: 9 in 10 · R4 solid · 6 dB over workable · −91 dBm (S9 + 2 dB)"


def test_no_path_is_said_and_never_a_number() -> None:
    for nothing in (math.nan, -math.inf):
        said = quality_words(margin_db=nothing, chance=0.0, received_dbm=math.nan, frequency_mhz=146.0)
        assert said == "no radio path"


@pytest.mark.parametrize(
    ("value", "decimals", "plain", "with_sign"),
    [
        (3.4, 0, "3", "+3"),
        (-3.4, 0, "−3", "−3"),
        (-0.2, 0, "0", "0"),
        (0.0, 1, "0.0", "0.0"),
        (-0.04, 1, "0.0", "0.0"),
        (12.34, 1, "12.3", "+12.3"),
        (math.nan, 0, "–", "–"),
        (math.inf, 0, "–", "–"),
        (100.0, 0, "100", "+100"),
    ],
)
def test_numbers(value, decimals, plain, with_sign) -> None:
    assert number(value, decimals) == plain
    assert signed(value, decimals) == with_sign


def test_distance_in_both_units() -> None:
    assert distance_words(16_093.44) == "16.1 km (10.0 mi)"  # the mile of 1959: 1609.344 m


def test_clearance_in_words() -> None:
    assert "less than the 60 %" in clearance_words(line_of_sight=True, fresnel_clearance=0.3)
    assert "less than" not in clearance_words(line_of_sight=True, fresnel_clearance=0.6)
    assert clearance_words(line_of_sight=False, fresnel_clearance=-0.5).startswith("no line of sight")
    assert clearance_words(line_of_sight=True, fresnel_clearance=math.inf) == "in line of sight"


def test_the_worst_point_is_placed_and_measured() -> None:
    # d1 = 4 km, d2 = 12 km at 150 MHz: F1 = sqrt(1.99862 x 4000 x 12000 / 16000) = 77.4 m
    blocked = PathClearance(False, -0.5, 4000.0, 38.7, 77.4, 0.707)
    assert worst_point_words(blocked, start="QK1A") == (
        "Worst point: 4.0 km (2.5 mi) from QK1A, 39 m above the sight line; "
        "the first Fresnel radius there is 77 m."
    )
    assert "60 m below" in worst_point_words(replace(blocked, obstruction_m=-60.0), start="QK1A")
    assert worst_point_words(replace(blocked, worst_share=math.inf), start="QK1A") == ""


def test_every_grade_has_a_style_but_none() -> None:
    from reach.drawings.style.palette import GRADE_LINES

    assert set(GRADE_LINES) == set(GRADES) - {GRADES[-1]}


@pytest.mark.parametrize(
    ("level_uv", "said"),
    [(0.204, "0.20"), (9.994, "9.99"), (77.3, "77"), (999.4, "999"), (3_916_136.2, "3,920,000")],
)
def test_a_level_has_no_digits_nobody_knows(level_uv: float, said: str) -> None:
    assert microvolt_figure(level_uv) == said
