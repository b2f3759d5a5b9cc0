"""What `reach area` says: sentences, notes and tables, from finished figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reach.stations import Net, Repeater, Station

if TYPE_CHECKING:
    from reach.coverage.area.overlay import RegionCoverage
    from reach.coverage.area.raster import RasterFile
    from reach.coverage.area.sites import SiteJob
    from reach.coverage.area.summary import AreaSummary

KIND_WORDS = {"handheld": "A handheld in the hand", "mobile": "A mobile", "base": "A base station"}


@dataclass(frozen=True)
class SiteReport:
    """One site as it was asked for, swept, and counted."""

    party: Station | Repeater
    job: SiteJob
    raster: RasterFile
    figures: AreaSummary

    @property
    def call_sign(self) -> str:
        """The site's call sign."""
        return self.job.hub.call_sign

    @property
    def radius_km(self) -> float:
        """How far round the site, km."""
        return self.job.radius_m / 1000.0


def share_words(share: float) -> str:
    """'96%'; never 0% or 100% for what is not quite that."""
    if 0.0 < share < 0.01:
        return "under 1%"
    if 0.99 < share < 1.0:
        return "over 99%"
    return f"{share:.0%}"


def site_sentence(site: SiteReport, kind: str) -> str:
    """The answer for one site, over land. kind : as KIND_WORDS has it."""
    figures, call = site.figures, site.call_sign
    known = " known" if figures.unknown_share > 0.0005 else ""
    if figures.land_km2 == 0.0:
        return (
            f"No land is known within {site.radius_km:g} km of {call}; {lower_words(kind)} works it "
            f"from {figures.served_sea_km2:,.0f} km² of sea."
        )
    text = (
        f"{kind} works {call} from {share_words(figures.served_share)} of the{known} land within "
        f"{site.radius_km:g} km ({figures.served_km2:,.0f} km²)"
    )
    hears = figures.hears_only_km2 / figures.land_km2
    if hears >= 0.005:
        text += f"; from {share_words(hears)} more it hears {call} but {not_heard_words(site)}"
    return text + "."


def not_heard_words(site: SiteReport) -> str:
    """What becomes of a station that only hears the site."""
    return "does not get in" if isinstance(site.party, Repeater) else "is not heard there"


def heard_only_words(site: SiteReport) -> str:
    """What becomes of a station that the site hears and that does not hear it."""
    got_in = "gets in" if isinstance(site.party, Repeater) else "is heard"
    return f"{got_in}, does not hear {site.call_sign}"


def together_sentence(region: RegionCoverage, *, radius_km: float, kind: str) -> str:
    """The answer for several sites at once, over land."""
    calls = region.call_signs
    ashore = region.known & region.land
    land_km2 = region.area_km2(ashore)
    served_km2 = region.area_km2(ashore & (region.served_by > 0))
    more_km2 = region.area_km2(ashore & (region.served_by > 1))
    none_km2 = region.area_km2(ashore & (region.served_by == 0))
    pair = len(calls) == 2
    share = share_words(served_km2 / land_km2) if land_km2 else "none"
    return (
        f"{kind} works {either_words(calls)} from {share} of the known land within {radius_km:g} km of "
        f"{'either' if pair else 'any of them'} ({served_km2:,.0f} km²): {more_km2:,.0f} km² "
        f"{'has both' if pair else 'has two or more'}, {none_km2:,.0f} km² has "
        f"{'neither' if pair else 'none'}."
    )


def best_sentence(region: RegionCoverage) -> str:
    """Which site serves how much land best."""
    shares = ((call, region.area_km2(region.land & (region.best_site == i)))
              for i, call in enumerate(region.call_signs))  # fmt: skip
    return "Best served by: " + ", ".join(f"{call} {area:,.0f} km²" for call, area in shares) + "."


def lower_words(sentence: str) -> str:
    """A sentence's words to go on inside another."""
    return sentence[0].lower() + sentence[1:]


def either_words(calls: Sequence[str]) -> str:
    """'A, B or C'."""
    return f"{', '.join(calls[:-1])} or {calls[-1]}" if len(calls) > 1 else calls[0]


def area_notes(
    net: Net, sites: Sequence[SiteReport], station: Station, assumed: Sequence[str]
) -> tuple[str, ...]:
    """What the figures stand on."""
    from reach.coverage.area.sites import MODEL_WORDS
    from reach.units import dbm_to_watts

    job = sites[0].job
    watts = float(dbm_to_watts(station.transmit_power_dbm))
    sea_km2 = sum(site.figures.sea_km2 for site in sites)
    sea = "; sea, which the figures leave out, is what the tiles hold flat at 0 m or below" if sea_km2 else ""
    return (
        f"In the cells: {station.name}, {watts:.3g} W, antenna {station.antenna.kind} at "
        f"{station.antenna.height_m:g} m; {(station.noise or net.noise).value.replace('_', ' ')} noise.",
        f"Cells of {job.cell_m:g} m; {MODEL_WORDS[job.model]}; bare ground, no trees or houses; "
        f"all of it taken as inland, the sea too{sea}.",
        *assumed,
    )


def area_doubts(net: Net, sites: Sequence[SiteReport]) -> list[str]:
    """What the reader should know before trusting the map."""
    from reach.coverage.area.sites import MODEL_WORDS

    doubts = [
        f"{site.call_sign}: nothing can be said of {share_words(site.figures.unknown_share)} of the circle: "
        "the elevation tiles do not reach there, or a void lies between."
        for site in sites
        if site.figures.unknown_share > 0.0005
    ]
    if net.land_cover is not None:
        doubts.append(
            "The net's land cover is left out here: areas are computed over bare ground. "
            "Expect less in and behind woods and towns; reach repeater and reach path count them."
        )
    if net.model not in ("auto", "delta_bullington", "p1812"):
        taken = MODEL_WORDS[sites[0].job.model]
        doubts.append(f"{net.model} works out single paths only; areas take {taken}.")
    return doubts


def site_table(site: SiteReport) -> Any:
    """Both ways and each way alone, grades of the weaker direction, directions, members."""
    from reach.drawings.style.words import grade_words
    from reach.drawings.tables.terminal import quiet_table
    from reach.links.grade import Grade

    figures, call = site.figures, site.call_sign
    areas = [("works both ways", figures.served_km2)]
    areas += [
        (f"  {grade_words(grade)}", area)
        for grade, area in figures.grade_km2
        if grade.readability >= Grade.WORKABLE.readability
    ]
    areas += [
        (f"hears {call}, {not_heard_words(site)}", figures.hears_only_km2),
        (heard_only_words(site), figures.heard_only_km2),
        ("neither", figures.neither_km2),
    ]
    land_km2 = figures.land_km2
    rows = [
        (words, f"{area:,.1f}", share_words(area / land_km2) if land_km2 else "") for words, area in areas
    ]
    if figures.sea_km2:
        rows.append(
            ("sea, works both ways", f"{figures.served_sea_km2:,.1f}", f"of {figures.sea_km2:,.1f} km²")
        )
    if figures.unknown_share > 0.0005:
        unknown_km2 = figures.circle_km2 * figures.unknown_share
        rows.append(
            ("not known", f"{unknown_km2:,.1f}", f"{share_words(figures.unknown_share)} of the circle")
        )
    rows += _direction_rows(figures)
    known = [place for place in figures.places if place.served is not None]
    if known:
        works = sum(bool(place.served) for place in known)
        rows.append(
            ("works from members' places", f"{works} of {len(known)}", share_words(figures.roster_share))
        )
    return quiet_table("", ((f"{call}, land", "left"), ("km²", "right"), ("share of land", "right")), rows)


def _direction_rows(figures: AreaSummary) -> list[tuple[str, str, str]]:
    best, worst = figures.best, figures.worst
    if best is None or worst is None:
        return []
    if best.served_share == worst.served_share:
        return [("every direction", "", f"{share_words(best.served_share)} works")]
    named = (("best direction", best), ("worst direction", worst))
    return [
        (words, f"{sector.bearing_deg:.0f}°", f"{share_words(sector.served_share)} works")
        for words, sector in named
    ]


def area_csv(sites: Sequence[SiteReport]) -> str:
    """A row a site and grade of the weaker direction, over land."""
    from reach.drawings.exports.machine import csv_text

    rows = [
        (
            site.call_sign,
            grade.word,
            grade.readability,
            round(area, 3),
            round(area / site.figures.land_km2, 5) if site.figures.land_km2 else None,
        )
        for site in sites
        for grade, area in site.figures.grade_km2
    ]
    return csv_text(rows, ("site", "grade", "readability", "land_km2", "share_of_land"))
