"""Numbers as people write them: never a power of ten, and one formatter for every length that is said."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import reach
from reach.units import figure, length_in_words, metres_in_words, mhz_in_words

# a length written into a sentence by a formatter of Python's, which turns 5,000,000 m into 5e+06 m
_OWN_WAY = re.compile(r"\{[^{}]*(?:_m|_km|\bmetres|/ 1000(?:\.0)?)(?:\[[^\]]*\])?:[,.0-9]*g\} ?k?m\b")


@pytest.mark.parametrize(
    ("length_m", "words"),
    [
        (0.0, "0 m"), (0.5, "0.5 m"), (30.0, "30 m"), (199.9488, "199.949 m"), (999.0, "999 m"),
        (1000.0, "1 km"), (8046.72, "8.04672 km"), (500_000.0, "500 km"), (5e6, "5000 km"),
        (5e9, "5,000,000 km"),
    ],
)  # fmt: skip
def test_lengths_as_they_are_said(length_m: float, words: str) -> None:
    assert length_in_words(length_m) == words


def test_heights_stay_in_metres() -> None:
    assert [metres_in_words(height) for height in (1.5, 12.192, 3000.0, 5e6)] == [
        "1.5 m", "12.192 m", "3000 m", "5,000,000 m",
    ]  # fmt: skip


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e300, max_value=1e300))
def test_no_number_is_a_power_of_ten_and_none_is_far_off(value: float) -> None:
    text = figure(value)
    assert "e" not in text
    assert float(text.replace(",", "")) == pytest.approx(value, rel=6e-6, abs=1e-11)


def test_few_digits_and_what_is_no_number() -> None:
    assert [figure(12_345.0, 4), figure(2e-5), figure(float("inf"))] == ["12,340", "0.00002", "inf"]


def test_every_length_in_a_sentence_goes_through_the_formatter() -> None:
    root = Path(reach.__file__).parent
    own = [
        f"{path.relative_to(root)}: {found[0]}"
        for path in sorted(root.rglob("*.py"))
        for found in _OWN_WAY.finditer(path.read_text(encoding="utf-8"))
    ]
    assert own == []
    assert _OWN_WAY.search('f"a cell of {cell_m:g} m"') and _OWN_WAY.search("{radius_m / 1000.0:,.10g} km")


@pytest.mark.parametrize(
    ("frequency_mhz", "words"),
    [(146.52, "146.520 MHz"), (145.2875, "145.2875 MHz"), (446.0, "446.000 MHz"), (29.6, "29.600 MHz")],
)
def test_a_channel_of_12_5_khz_keeps_its_fourth_decimal(frequency_mhz: float, words: str) -> None:
    assert mhz_in_words(frequency_mhz) == words
