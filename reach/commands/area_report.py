"""What `reach area` says and draws: sentences, tables and the map, from finished figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reach.stations import Net, Repeater, Station

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from reach.coverage.overlay import RegionCoverage
    from reach.coverage.raster import RasterFile
    from reach.coverage.sites import SiteJob
    from reach.coverage.summary import AreaSummary
    from reach.drawings.picture import CoverageOverlay, MapPicture
    from reach.stations import Position
    from reach.terrain.tiles import Terrain

KIND_WORDS = {"handheld": "A handheld in the hand", "mobile": "A mobile", "base": "A base station"}
LONGEST_SIDE_PIXELS = 1600
MOST_COUNTED = 3  # the count of sites is shown as 1, 2, and 3 or more


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
            f"No land is known within {site.radius_km:g} km of {call}; {_lower(kind)} works it "
            f"from {figures.served_sea_km2:,.0f} km² of sea."
        )
    text = (
        f"{kind} works {call} from {share_words(figures.served_share)} of the{known} land within "
        f"{site.radius_km:g} km ({figures.served_km2:,.0f} km²)"
    )
    hears = figures.hears_only_km2 / figures.land_km2
    if hears >= 0.005:
        text += f"; from {share_words(hears)} more it hears {call} but {_not_heard(site)}"
    return text + "."


def _not_heard(site: SiteReport) -> str:
    return "does not get in" if isinstance(site.party, Repeater) else "is not heard there"


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
        f"{kind} works {_either(calls)} from {share} of the known land within {radius_km:g} km of "
        f"{'either' if pair else 'any of them'} ({served_km2:,.0f} km²): {more_km2:,.0f} km² "
        f"{'has both' if pair else 'has two or more'}, {none_km2:,.0f} km² has "
        f"{'neither' if pair else 'none'}."
    )


def best_sentence(region: RegionCoverage) -> str:
    """Which site serves how much land best."""
    shares = ((call, region.area_km2(region.land & (region.best_site == i)))
              for i, call in enumerate(region.call_signs))  # fmt: skip
    return "Best served by: " + ", ".join(f"{call} {area:,.0f} km²" for call, area in shares) + "."


def _lower(sentence: str) -> str:
    return sentence[0].lower() + sentence[1:]


def _either(calls: Sequence[str]) -> str:
    return f"{', '.join(calls[:-1])} or {calls[-1]}" if len(calls) > 1 else calls[0]


def area_notes(
    net: Net, sites: Sequence[SiteReport], station: Station, assumed: Sequence[str]
) -> tuple[str, ...]:
    """What the figures stand on."""
    from reach.coverage.sites import MODEL_WORDS
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
    from reach.coverage.sites import MODEL_WORDS

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
    from reach.drawings.tables import quiet_table
    from reach.links.grade import Grade

    figures, call = site.figures, site.call_sign
    heard_only = (
        f"gets in, does not hear {call}"
        if isinstance(site.party, Repeater)
        else f"is heard, does not hear {call}"
    )
    areas = [("works both ways", figures.served_km2)]
    areas += [
        (f"  {grade.word}, R{grade.readability}", area)
        for grade, area in figures.grade_km2
        if grade.readability >= Grade.WORKABLE.readability
    ]
    areas += [
        (f"hears {call}, {_not_heard(site)}", figures.hears_only_km2),
        (heard_only, figures.heard_only_km2),
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
    from reach.drawings.machine import csv_text

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


def area_map(
    net: Net,
    terrain: Terrain,
    sites: Sequence[SiteReport],
    region: RegionCoverage,
    *,
    kind: str,
    headline: str,
    notes: Sequence[str],
    warnings: Sequence[str],
) -> str:
    """The page: sites as masts, members by whether they are served, coverage with a switch a layer."""
    from reach.drawings.coverage_map import coverage_map
    from reach.drawings.picture import chance_classes

    overlays = [
        _laid(
            region,
            chance_classes(region.chance),
            f"how often {_lower(kind)} works {_either(region.call_signs)}",
        )
    ]
    if len(sites) > 1:
        overlays.append(_count_overlay(region))
    return coverage_map(
        net,
        sites=[site.party for site in sites],
        overlays=overlays,
        headline=headline,
        member_chance=_chance_by_member(sites),
        relief=_relief(net, terrain, sites),
        notes=notes,
        warnings=warnings,
        frame=overlays[0].box,
    )


def _chance_by_member(sites: Sequence[SiteReport]) -> dict[str, float]:
    """The best chance any site gives at each member's place; NaN where nothing is known; none outside."""
    chances: dict[str, float] = {}
    for place in (place for site in sites for place in site.figures.places if place.inside):
        before = chances.get(place.call_sign, float("nan"))
        chances[place.call_sign] = place.chance if not before >= place.chance else before
    return chances


def _count_overlay(region: RegionCoverage) -> CoverageOverlay:
    """How many sites serve each cell."""
    import numpy as np

    from reach.drawings.palette import CHANCE_STEPS, ChanceStep

    most = min(MOST_COUNTED, len(region.call_signs))
    words = ["1 of them", "2 of them", "3 of them"][:most]
    if len(region.call_signs) > MOST_COUNTED:
        words[-1] = "3 or more of them"
    looks = CHANCE_STEPS[0], CHANCE_STEPS[2], CHANCE_STEPS[3]
    steps = tuple(
        ChanceStep(float(n + 1), looks[n].fill, looks[n].opacity, text) for n, text in enumerate(words)
    )
    classes = np.minimum(region.served_by, most).astype(np.uint8)
    return _laid(region, classes, f"how many of {', '.join(region.call_signs)} it works", steps)


def _laid(
    region: RegionCoverage, classes: NDArray[Any], name: str, steps: tuple[Any, ...] | None = None
) -> CoverageOverlay:
    """Classes of the region's cells in the map's projection."""
    from reach.coverage.raster import box_in, warped
    from reach.drawings.picture import CoverageOverlay, MercatorBox

    rows, columns = classes.shape
    t = region.transform
    edges = (t.c, t.f + rows * t.e, t.c + columns * t.a, t.f)
    box = box_in("EPSG:3857", crs=region.crs, box=edges)
    longer = max(box[2] - box[0], box[3] - box[1])
    pixel = longer / min(LONGEST_SIDE_PIXELS, max(rows, columns))
    shape = (max(1, round((box[3] - box[1]) / pixel)), max(1, round((box[2] - box[0]) / pixel)))
    picture = warped(
        classes, crs=region.crs, transform=region.transform, to_crs="EPSG:3857", box=box, shape=shape
    )
    if steps is None:
        return CoverageOverlay(name, picture, MercatorBox(*box))
    return CoverageOverlay(name, picture, MercatorBox(*box), steps)


def _relief(net: Net, terrain: Terrain, sites: Sequence[SiteReport]) -> MapPicture:
    """Relief under the net and the circles."""
    from reach.drawings.ground import places_of, relief_around
    from reach.geodesy import destination
    from reach.stations import Position

    rims: list[Position] = []
    for site in sites:
        at = site.job.hub.position
        for bearing_deg in (0.0, 90.0, 180.0, 270.0):
            latitude, longitude = destination(
                latitude_deg=at.latitude_deg,
                longitude_deg=at.longitude_deg,
                bearing_deg=bearing_deg,
                distance_m=site.job.radius_m,
            )
            rims.append(Position(float(latitude), float(longitude)))
    return relief_around(terrain, [*places_of(net), *rims])
