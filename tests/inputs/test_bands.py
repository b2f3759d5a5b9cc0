"""Band edges by region (from memory of the IARU band plans and FCC 47 CFR 97.301)."""

from __future__ import annotations

import pytest

from reach.inputs.bands import BANDS, band_of, frequency_warnings


@pytest.mark.parametrize(
    ("frequency_mhz", "region", "band"),
    [
        (28.0, 1, "10 m"), (29.7, 2, "10 m"), (27.99, 2, None), (52.525, 2, "6 m"), (52.525, 1, None),
        (144.0, 1, "2 m"), (146.0, 1, "2 m"), (146.52, 1, None), (148.0, 2, "2 m"), (223.5, 2, "1.25 m"),
        (223.5, 1, None), (223.5, 3, None), (433.5, 1, "70 cm"), (446.0, 1, None), (446.0, 2, "70 cm"),
        (450.1, 2, None),
    ],
)  # fmt: skip
def test_bands(frequency_mhz: float, region: int, band: str | None) -> None:
    found = band_of(frequency_mhz, region=region)
    assert (found.name if found else None) == band


def test_bands_do_not_overlap_and_ascend() -> None:
    for bands in BANDS.values():
        edges = [edge for band in bands for edge in (band.low_mhz, band.high_mhz)]
        assert edges == sorted(edges)


def test_a_warning_names_frequency_region_and_who() -> None:
    (text,) = frequency_warnings(446.0, region=1, who="channel a")
    assert text.startswith("channel a: 446 MHz is outside") and "region 1" in text and "licence" in text
    assert frequency_warnings(446.0, region=2, who="channel a") == ()
