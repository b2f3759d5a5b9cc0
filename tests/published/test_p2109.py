"""Building entry loss against figures computed from Rec. ITU-R P.2109's formula and constants.

The constants were compared with a public transcription of the Recommendation; the figures are those of a
facts sheet computed apart from this code, to the digits given. scipy supplies an independent normal
quantile.
"""

from __future__ import annotations

import math

import pytest

from reach.errors import OutOfRange
from reach.propagation.building_entry import Building, building_entry_loss_db, indoor_loss_db

special = pytest.importorskip("scipy.special")


@pytest.mark.parametrize(
    ("frequency_mhz", "building", "median_db", "ninety_db"),
    [
        (146.0, Building.TRADITIONAL, 14.1, 23.0),
        (223.0, Building.TRADITIONAL, 13.9, 23.1),
        (446.0, Building.TRADITIONAL, 14.0, 23.8),
        (146.0, Building.THERMALLY_EFFICIENT, 37.5, 51.0),
        (223.0, Building.THERMALLY_EFFICIENT, 35.2, 49.2),
        (446.0, Building.THERMALLY_EFFICIENT, 32.6, 47.3),
    ],
)
def test_table(frequency_mhz: float, building: Building, median_db: float, ninety_db: float) -> None:
    for share, expected_db in ((0.5, median_db), (0.9, ninety_db)):
        found_db = building_entry_loss_db(
            frequency_mhz=frequency_mhz, building=building, share_of_buildings=share
        )
        assert float(found_db) == pytest.approx(expected_db, abs=0.051)


def test_two_more_digits() -> None:
    assert float(building_entry_loss_db(frequency_mhz=146.0)) == pytest.approx(14.06, abs=0.0051)
    assert float(building_entry_loss_db(frequency_mhz=146.0, share_of_buildings=0.9)) == pytest.approx(
        22.98, abs=0.0051
    )


@pytest.mark.parametrize("share", [0.01, 0.2, 0.5, 0.7, 0.99])
def test_written_out_once_more(share: float) -> None:
    """Eq. (1) in one line for a traditional building at 1 GHz, where every log f vanishes; 30 degrees up."""
    z = float(special.ndtri(share))
    a_db, b_db = 12.64 + 9.6 * z + 0.212 * 30.0, 9.1 + 4.5 * z
    expected_db = 10.0 * math.log10(10 ** (a_db / 10) + 10 ** (b_db / 10) + 10**-0.3)
    found_db = building_entry_loss_db(frequency_mhz=1000.0, share_of_buildings=share, elevation_deg=-30.0)
    assert float(found_db) == pytest.approx(expected_db, abs=1e-9)


@pytest.mark.parametrize("frequency_mhz", [52.0, 79.9, 100_001.0, float("nan")])
def test_outside_the_range_is_refused(frequency_mhz: float) -> None:
    with pytest.raises(OutOfRange, match=r"element 1.*80 to 100000 MHz"):
        building_entry_loss_db(frequency_mhz=[146.0, frequency_mhz])


def test_line_of_the_budget_says_what_was_taken() -> None:
    loss_db, note = indoor_loss_db(frequency_mhz=52.0, building=Building.TRADITIONAL)
    assert loss_db == float(building_entry_loss_db(frequency_mhz=80.0))
    assert "not defined below 80 MHz" in note
    assert "not defined" not in indoor_loss_db(frequency_mhz=146.0, building=Building.TRADITIONAL)[1]
