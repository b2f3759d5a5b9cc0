"""End terms against the reference cases of Rec. ITU-R P.2108-1, section 3.1.

Source : NTIA's test data for P.2108 (github.com/NTIA/p2108-test-data, commit 1d0f7c8; a work of the US
government, royalty-free elsewhere, acknowledgment asked; own column names and MHz) and the Study Group 3
validation script (github.com/eeveetza/p2108, commit c520110), both as tables beside the checkout; a few of
NTIA's are kept here so that the check never goes away. Printed to 0.1 dB.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from reach.propagation.typical_land.rule import end_term_db

TABLE = (
    Path(__file__).resolve().parents[3] / "shared" / "validation" / "typical_land" / "p2108_height_gain.csv"
)

# MHz, antenna m, land m, street m, dB
NTIA = [
    (1500.0, 2.0, 10.0, 27.0, 20.5), (1500.0, 2.0, 15.0, 27.0, 24.5), (1500.0, 2.0, 20.0, 27.0, 27.1),
    (3000.0, 3.0, 15.0, 15.0, 29.0), (1500.0, 2.5, 10.0, 25.0, 20.2), (30.0, 2.1, 9.8, 24.5, 5.7),
    (1700.0, 30.0, 9.8, 24.5, 0.0),
]  # fmt: skip
# the same formulas worked out apart from this code
CLUB_BANDS = [
    (146.52, 1.5, 10.0, 11.226), (146.52, 2.0, 10.0, 10.776), (146.52, 5.0, 10.0, 7.560),
    (146.52, 9.0, 10.0, 1.656), (446.0, 1.5, 10.0, 15.75), (446.0, 2.0, 10.0, 15.26),
    (446.0, 5.0, 10.0, 11.51), (446.0, 9.0, 10.0, 2.87), (146.52, 1.5, 15.0, 14.78),
    (146.52, 10.0, 15.0, 7.56), (146.52, 12.0, 15.0, 4.82),
    (446.0, 1.5, 15.0, 19.53), (446.0, 10.0, 15.0, 11.51), (446.0, 12.0, 15.0, 7.87),
    (52.525, 1.5, 10.0, 7.60), (223.5, 1.5, 10.0, 12.89),
]  # fmt: skip


@pytest.mark.parametrize(("frequency_mhz", "height_m", "land_m", "street_m", "loss_db"), NTIA)
def test_ntias_cases(
    frequency_mhz: float, height_m: float, land_m: float, street_m: float, loss_db: float
) -> None:
    found_db = end_term_db(height_m, land_m, frequency_mhz * 1e-3, street_m)
    assert found_db == pytest.approx(loss_db, abs=0.05001)


@pytest.mark.parametrize(("frequency_mhz", "height_m", "land_m", "loss_db"), CLUB_BANDS)
def test_club_bands(frequency_mhz: float, height_m: float, land_m: float, loss_db: float) -> None:
    assert end_term_db(height_m, land_m, frequency_mhz * 1e-3) == pytest.approx(loss_db, abs=0.0051)


@pytest.mark.skipif(not TABLE.exists(), reason="the reference tables are not beside the checkout")
def test_every_reference_case_of_suburbs_towns_and_woods() -> None:
    """All rows of the form used here; rows to refuse tell no loss."""
    checked = 0
    names = ("suburban", "urban", "dense_urban", "trees_forest")
    with TABLE.open(encoding="utf-8", newline="") as rows:
        for row in csv.DictReader(rows):
            if row["surroundings"] not in names or row["tolerance_db"] == "refuse":
                continue
            found_db = end_term_db(
                float(row["h_m"]), float(row["R_m"]), float(row["f_mhz"]) * 1e-3, float(row["street_width_m"])
            )
            tolerance_db = float(row["tolerance_db"]) + 1e-5
            assert found_db == pytest.approx(float(row["A_h_db"]), abs=tolerance_db), row
            checked += 1
    assert checked > 90
