"""Maidenhead locators against published examples of the IARU locator system.

The first is the worked example that accompanies the published algorithm (Munich); the four others are the
examples with which independent implementations are commonly tested. All from memory, so that each is also
worked out here from the definition alone: fields of 20 by 10 degrees, squares of 2 by 1 degrees, sub-squares
of 5 by 2.5 minutes of arc, then tenths, then twenty-fourths.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from reach.inputs.locators import locator_cell, locator_of, position_of_locator
from reach.stations import Position

EXAMPLES = [
    (48.14666, 11.60833, "JN58td"),
    (-34.91, -56.21166, "GF15vc"),
    (38.92, -77.065, "FM18lw"),
    (-41.28333, 174.745, "RE78ir"),
    (0.0, 0.0, "JJ00aa"),
]


def by_the_definition(latitude: str, longitude: str) -> str:
    """Ten characters by long division in exact fractions of the decimals as written."""
    east, north = Fraction(longitude) + 180, Fraction(latitude) + 90
    text = ""
    for width, height, first in (
        (Fraction(20), Fraction(10), "A"),
        (Fraction(2), Fraction(1), "0"),
        (Fraction(5, 60), Fraction(5, 120), "a"),
        (Fraction(30, 3600), Fraction(15, 3600), "0"),
        (Fraction(30, 3600 * 24), Fraction(15, 3600 * 24), "a"),
    ):
        columns, east = divmod(east, width)
        rows, north = divmod(north, height)
        text += chr(ord(first) + int(columns)) + chr(ord(first) + int(rows))
    return text


@pytest.mark.parametrize(("latitude", "longitude", "locator"), EXAMPLES)
def test_published_examples(latitude: float, longitude: float, locator: str) -> None:
    assert locator_of(Position(latitude, longitude), characters=6) == locator
    assert by_the_definition(str(latitude), str(longitude)).startswith(locator)


@pytest.mark.parametrize("characters", [4, 6, 8, 10])
@pytest.mark.parametrize(
    ("latitude", "longitude"),
    [("41.2083", "-38.1504"), ("-0.00001", "0.00001"), ("48.14666", "11.60833"), ("89.99999", "179.99999")],
)
def test_the_definition_in_exact_fractions(latitude: str, longitude: str, characters: int) -> None:
    place = Position(float(latitude), float(longitude))
    assert locator_of(place, characters=characters) == by_the_definition(latitude, longitude)[:characters]


@pytest.mark.parametrize(("latitude", "longitude", "locator"), EXAMPLES)
def test_cells_hold_the_published_places(latitude: float, longitude: float, locator: str) -> None:
    cell = locator_cell(locator)
    assert (cell.width_deg, cell.height_deg) == pytest.approx((5 / 60, 2.5 / 60), abs=1e-12)
    assert cell.west_deg <= longitude < cell.west_deg + cell.width_deg
    assert cell.south_deg <= latitude < cell.south_deg + cell.height_deg
    centre = position_of_locator(locator)
    assert centre.latitude_deg == pytest.approx(cell.south_deg + cell.height_deg / 2, abs=1e-12)


def test_sizes_by_length() -> None:
    # of the definition: 2 x 1 degrees, 5' x 2.5', 30" x 15", 1.25" x 0.625"
    sizes = {4: (2.0, 1.0), 6: (5 / 60, 2.5 / 60), 8: (30 / 3600, 15 / 3600), 10: (1.25 / 3600, 0.625 / 3600)}
    for characters, size in sizes.items():
        cell = locator_cell("FM18lw76qb"[:characters])
        assert (cell.width_deg, cell.height_deg) == pytest.approx(size, rel=1e-12)
