"""From where a chosen kind of station gets in: every cell round one or more repeaters or members."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from reach.answers.area_heard import as_heard
from reach.answers.area_site import KIND_WORDS, AreaSite, either_words, share_words
from reach.answers.area_work import AreaWork
from reach.answers.open_net import OpenNet
from reach.answers.record import Answer
from reach.answers.sheet import Sheet
from reach.coverage.area.overlay import RegionCoverage, overlay
from reach.coverage.area.raster_polygons import GradePolygon, grade_polygons
from reach.coverage.area.service import area_readability
from reach.coverage.area.sites import COVER_WORDS, MODEL_WORDS, compute_sites, site_summary
from reach.coverage.area.summary import AreaSummary
from reach.links.assumed import assumed_notes
from reach.machinery.progress import Watch, unwatched
from reach.notes import texts
from reach.stations import Net
from reach.units import length_in_words, metres_in_words, power_in_words


@dataclass(frozen=True)
class SiteFigures:
    """One site for machines; areas in km2, of land, shares 0 to 1, bearings in degrees from true north."""

    call_sign: str
    headline: str
    figures: AreaSummary


@dataclass(frozen=True)
class AreaFigures:
    """All sites, and together: known land that one or more, two or more, or none of them serves."""

    headline: str
    station_kind: str
    radius_km: float
    cell_m: float
    sites: tuple[SiteFigures, ...]
    served_km2: float
    served_twice_km2: float
    gap_km2: float


@dataclass(frozen=True, kw_only=True)
class AreaAnswer(Answer):
    """work : what was asked; sites : in the order asked for; region : all of them on one grid."""

    work: AreaWork
    sites: tuple[AreaSite, ...]
    region: RegionCoverage

    @property
    def headlines(self) -> tuple[str, ...]:
        """A sentence a site."""
        return tuple(site.sentence(self.work.kind) for site in self.sites)

    @property
    def title(self) -> str:
        """The sites and the kind of station, to head what is drawn elsewhere."""
        return f"{', '.join(self.region.call_signs)}: {self.work.kind.value}"

    @property
    def best_sentence(self) -> str:
        """Which site serves how much land best."""
        region = self.region
        shares = (
            f"{call} {region.area_km2(region.land & (region.best_site == i)):,.0f} km²"
            for i, call in enumerate(region.call_signs)
        )
        return f"Best served by: {', '.join(shares)}."

    @property
    def figures(self) -> AreaFigures:
        """As Answer.figures."""
        served = _served(self.region)
        return AreaFigures(
            self.headline,
            self.work.kind.name.lower(),
            self.work.radius_m / 1000.0,
            self.work.cell_m,
            tuple(
                SiteFigures(site.call_sign, headline, site.figures)
                for site, headline in zip(self.sites, self.headlines)
            ),
            served.once_km2,
            served.twice_km2,
            served.gap_km2,
        )

    def outlines(self) -> tuple[GradePolygon, ...]:
        """Where each grade of the best site holds, as polygons, best first."""
        region = self.region
        return grade_polygons(
            area_readability(region.margin_db),
            cell_m=region.cell_m,
            crs=region.crs,
            transform=region.transform,
            known=region.known,
            land=region.land,
        )


@dataclass(frozen=True)
class _Served:
    """Known land, and what of it one or more, two or more, or none of the sites serve, km2."""

    land_km2: float
    once_km2: float
    twice_km2: float
    gap_km2: float


def area(
    opened: OpenNet, work: AreaWork, *, folder: Path | None = None, watch: Watch = unwatched
) -> AreaAnswer:
    """Compute the sites of `area_work` and lay them over each other, corrected by what was heard of them.

    folder : where each site's raster is kept; one that lies there already from a like run is not computed
    again. None writes nothing. Raises : MissingTerrain, OutOfRange, naming the site; OutputProblem;
    ReachError for a lost process.
    """
    net = opened.net
    heard = as_heard(opened, work, watch=watch)
    work = heard.work
    with watch("radials" if len(work.jobs) == 1 else "sites") as progress:
        rasters = compute_sites(work.jobs, folder, work.executor, terrain=opened.terrain, progress=progress)
    sites = tuple(
        AreaSite(party, job, raster, site_summary(job, raster, net.stations))
        for party, job, raster in zip(work.parties, work.jobs, rasters)
    )
    region = overlay(
        [(site.call_sign, site.job.hub.position, site.raster) for site in sites], cell_m=work.cell_m
    )
    notes = (*_notes(net, sites, work), *assumed_notes(net, work.parties))
    return AreaAnswer(
        net=net,
        headline=_together(region, work) if len(sites) > 1 else sites[0].sentence(work.kind),
        assumed=notes,
        in_short=notes,
        warnings=texts(opened.warnings, heard.words, _doubts(net, sites)),
        rows=_rows(sites),
        work=work,
        sites=sites,
        region=region,
    )


def _served(region: RegionCoverage) -> _Served:
    ashore = region.known & region.land
    return _Served(
        region.area_km2(ashore),
        region.area_km2(ashore & (region.served_by > 0)),
        region.area_km2(ashore & (region.served_by > 1)),
        region.area_km2(ashore & (region.served_by == 0)),
    )


def _together(region: RegionCoverage, work: AreaWork) -> str:
    """The answer for several sites at once, over land."""
    served = _served(region)
    any_of, all_of, none_of = ("any of them", "has two or more", "has none")
    if len(region.call_signs) == 2:
        any_of, all_of, none_of = ("either", "has both", "has neither")
    share = share_words(served.once_km2 / served.land_km2) if served.land_km2 else "none"
    return (
        f"{KIND_WORDS[work.kind]} works {either_words(region.call_signs)} from {share} of the known land "
        f"within {length_in_words(work.radius_m)} of {any_of} ({served.once_km2:,.0f} km²): "
        f"{served.twice_km2:,.0f} km² {all_of}, {served.gap_km2:,.0f} km² {none_of}."
    )


def _notes(net: Net, sites: Sequence[AreaSite], work: AreaWork) -> tuple[str, str]:
    """What the figures stand on."""
    station, job = work.station, work.jobs[0]
    power = power_in_words(station.transmit_power_dbm)
    sea_km2 = sum(site.figures.sea_km2 for site in sites)
    sea = "; sea, which the figures leave out, is what the tiles hold flat at 0 m or below" if sea_km2 else ""
    return (
        f"In the cells: {station.name}, {power}, antenna {station.antenna.kind} at "
        f"{metres_in_words(station.antenna.height_m)}; "
        f"{(station.noise or net.noise).value.replace('_', ' ')} noise.",
        f"Cells of {length_in_words(job.cell_m)}; {MODEL_WORDS[job.model]}; "
        f"on the ground {COVER_WORDS[job.cover]}; all of it taken as inland, the sea too{sea}.",
    )


def _doubts(net: Net, sites: Sequence[AreaSite]) -> list[str]:
    """What the reader should know before trusting the map."""
    doubts = [
        f"{site.call_sign}: nothing can be said of {share_words(site.figures.unknown_share)} of the circle: "
        "the elevation tiles do not reach there, or a void lies between."
        for site in sites
        if site.has_unknown
    ]
    return doubts


def _rows(sites: Sequence[AreaSite]) -> Sheet:
    """A row a site and grade of the weaker direction, over land."""
    rows = tuple(
        (
            site.call_sign,
            grade.word,
            grade.readability,
            round(area_km2, 3),
            round(area_km2 / site.figures.land_km2, 5) if site.figures.land_km2 else None,
        )
        for site in sites
        for grade, area_km2 in site.figures.grade_km2
    )
    return Sheet(("site", "grade", "readability", "land_km2", "share_of_land"), rows)
