"""One site of an area as it was asked for, swept and counted, and what is said of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reach.coverage.area.raster import RasterFile
from reach.coverage.area.service import StationKind
from reach.coverage.area.sites import SiteJob
from reach.coverage.area.summary import AreaSummary
from reach.stations import Repeater, Station
from reach.units import length_in_words

UNKNOWN_WORTH_SAYING = 0.0005  # share of a circle
HEARS_ONLY_WORTH_SAYING = 0.005  # share of the land

KIND_WORDS = {
    StationKind.HANDHELD: "A handheld in the hand",
    StationKind.MOBILE: "A mobile",
    StationKind.BASE: "A base station",
}


@dataclass(frozen=True)
class AreaSite:
    """One site."""

    party: Station | Repeater
    job: SiteJob
    raster: RasterFile
    figures: AreaSummary

    @property
    def call_sign(self) -> str:
        """The site's call sign."""
        return self.job.hub.call_sign

    @property
    def has_unknown(self) -> bool:
        """Whether so much of the circle is not known that it is worth saying."""
        return self.figures.unknown_share > UNKNOWN_WORTH_SAYING

    @property
    def not_heard_words(self) -> str:
        """What becomes of a station that only hears the site."""
        return "does not get in" if isinstance(self.party, Repeater) else "is not heard there"

    @property
    def heard_only_words(self) -> str:
        """What becomes of a station that the site hears and that does not hear it."""
        got_in = "gets in" if isinstance(self.party, Repeater) else "is heard"
        return f"{got_in}, does not hear {self.call_sign}"

    def sentence(self, kind: StationKind) -> str:
        """The answer for this site, over land."""
        figures, call, who = self.figures, self.call_sign, KIND_WORDS[kind]
        if figures.land_km2 == 0.0:
            return (
                f"No land is known within {length_in_words(self.job.radius_m)} of {call}; "
                f"{lower_words(who)} works it from {figures.served_sea_km2:,.0f} km² of sea."
            )
        known = " known" if self.has_unknown else ""
        text = (
            f"{who} works {call} from {share_words(figures.served_share)} of the{known} land within "
            f"{length_in_words(self.job.radius_m)} ({figures.served_km2:,.0f} km²)"
        )
        hears = figures.hears_only_km2 / figures.land_km2
        if hears >= HEARS_ONLY_WORTH_SAYING:
            text += f"; from {share_words(hears)} more it hears {call} but {self.not_heard_words}"
        return text + "."


def share_words(share: float) -> str:
    """'96%'; never 0% or 100% for what is not quite that."""
    if 0.0 < share < 0.01:
        return "under 1%"
    if 0.99 < share < 1.0:
        return "over 99%"
    return f"{share:.0%}"


def lower_words(sentence: str) -> str:
    """A sentence's words to go on inside another."""
    return sentence[0].lower() + sentence[1:]


def either_words(calls: Sequence[str]) -> str:
    """'A, B or C'."""
    return f"{', '.join(calls[:-1])} or {calls[-1]}" if len(calls) > 1 else calls[0]
