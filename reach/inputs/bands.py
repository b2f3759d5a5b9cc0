"""The amateur bands from 10 m to 70 cm by IARU region, for warnings only: the operator's licence decides.

Source: ITU Radio Regulations, Article 5 allocations as the IARU regional band plans list them, and FCC
47 CFR 97.301 for the edges most Region 2 administrations share (all from memory). National edges differ.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from reach.inputs.quantities import quoted, refuse
from reach.stations import Station


@dataclass(frozen=True)
class Band:
    """name : as operators say it; edges in MHz, both inside the band."""

    name: str
    low_mhz: float
    high_mhz: float


SKYWAVE_BELOW_MHZ = 40.0  # F2 propagation is common below about 40 MHz near solar maximum (common practice)

_TEN_METRES = Band("10 m", 28.0, 29.7)
_SIX_METRES = Band("6 m", 50.0, 54.0)

BANDS: dict[int, tuple[Band, ...]] = {
    1: (_TEN_METRES, Band("6 m", 50.0, 52.0), Band("2 m", 144.0, 146.0), Band("70 cm", 430.0, 440.0)),
    2: (
        _TEN_METRES,
        _SIX_METRES,
        Band("2 m", 144.0, 148.0),
        Band("1.25 m", 222.0, 225.0),
        Band("70 cm", 420.0, 450.0),
    ),
    3: (_TEN_METRES, _SIX_METRES, Band("2 m", 144.0, 148.0), Band("70 cm", 430.0, 440.0)),
}


def band_of(frequency_mhz: float, *, region: int) -> Band | None:
    """The band of an IARU region (1, 2 or 3) a frequency lies in, or None."""
    return next((b for b in BANDS[region] if b.low_mhz <= frequency_mhz <= b.high_mhz), None)


BAND_NAMES = ("10 m", "6 m", "2 m", "1.25 m", "70 cm")


@cache
def band_name(frequency_mhz: float) -> str:
    """The band a frequency lies in, in whatever region; empty when it is in none planned here."""
    found = (band_of(frequency_mhz, region=region) for region in BANDS)
    return next((band.name for band in found if band is not None), "")


def works_on(station: Station, *frequencies_mhz: float) -> bool:
    """Whether a member has a radio for the bands of all the frequencies; any will do outside every band."""
    names = {band_name(frequency_mhz) for frequency_mhz in frequencies_mhz} - {""}
    return not station.bands or names <= set(station.bands)


def parse_bands(text: str) -> tuple[str, ...]:
    """'2 m, 70 cm' or '2m/70cm' as names of bands, in their order; 'all' as none. Raises : InputProblem."""
    if text.strip().lower() in ("all", "every", "any"):
        return ()
    by_letters = {re.sub(r"[^0-9a-z.]", "", name): name for name in BAND_NAMES}
    named = set()
    for part in re.split(r"[,;/+&]|\band\b", text.lower()):
        letters = re.sub(r"(met(re|er)s?)", "m", re.sub(r"[^0-9a-z.]", "", part))
        letters = re.sub(r"centim$", "cm", letters)
        if not letters:
            continue
        if letters not in by_letters:
            raise refuse(
                f"{quoted(part.strip())} is not a band known here",
                f"write bands such as 2 m / 70 cm; known are {', '.join(BAND_NAMES)}, or all",
            )
        named.add(by_letters[letters])
    if not named:
        raise refuse(f"{quoted(text)} names no band", "write bands such as 2 m / 70 cm, or all")
    return tuple(name for name in BAND_NAMES if name in named)


def frequency_warnings(frequency_mhz: float, *, region: int, who: str) -> tuple[str, ...]:
    """What to say about a frequency: below 40 MHz, outside the region's bands. `who` starts each sentence."""
    said = []
    if frequency_mhz < SKYWAVE_BELOW_MHZ:
        said.append(
            f"{who}: {frequency_mhz:.10g} MHz is planned as ground wave only; skywave is not modelled: it "
            "may reach much farther, and bring in noise from far away."
        )
    band = band_of(frequency_mhz, region=region)
    if band is None:
        listed = ", ".join(f"{b.name} {b.low_mhz:g}-{b.high_mhz:g}" for b in BANDS[region])
        said.append(
            f"{who}: {frequency_mhz:.10g} MHz is outside the amateur bands of IARU region {region} planned "
            f"here ({listed} MHz); check it, your licence decides."
        )
    return tuple(said)
