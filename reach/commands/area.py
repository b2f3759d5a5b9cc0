"""`reach area`: from where a chosen kind of station gets in, for every cell round a repeater or a member."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from reach.commands.options import (
    STANDARD_OUTPUT,
    channel_option,
    check_outputs,
    csv_option,
    deliver,
    folder_argument,
    json_option,
    map_option,
    progress_bar,
    replace_option,
    say,
    speaks_text,
)
from reach.errors import Fault, InputProblem, OutputProblem
from reach.files import Existing, check_writable

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from reach.coverage.executor import Executor
    from reach.coverage.overlay import RegionCoverage
    from reach.coverage.raster import RasterFile
    from reach.coverage.service import Hub
    from reach.coverage.sites import SiteJob
    from reach.coverage.summary import AreaSummary
    from reach.drawings.picture import CoverageOverlay
    from reach.stations import Channel, Net
    from reach.terrain.tiles import Terrain

_KIND_WORDS = {"handheld": "a handheld in the hand", "mobile": "a mobile", "base": "a base station"}
KINDS = tuple(_KIND_WORDS)
LONGEST_SIDE_PIXELS = 1600


@dataclass(frozen=True)
class SiteAnswer:
    """One site for machines; areas in km2, shares 0 to 1, bearings in degrees from true north."""

    call_sign: str
    headline: str
    figures: AreaSummary


@dataclass(frozen=True)
class AreaAnswer:
    """All sites, and together: served by one or more, by none where known."""

    station_kind: str
    radius_km: float
    cell_m: float
    sites: tuple[SiteAnswer, ...]
    served_km2: float
    gap_km2: float


@click.command("area")
@folder_argument
@click.argument("call_signs", nargs=-1, required=True, metavar="CALL...")
@click.option(
    "--kind",
    type=click.Choice(KINDS),
    default="handheld",
    show_default=True,
    help="Kind of station in the cells: handheld in the hand, mobile, or base at 9 m.",
)
@click.option("--radius", default="30 km", show_default=True, help="How far round each site, e.g. 50 km.")
@click.option("--resolution", default="30 m", show_default=True, help="Side of a cell, e.g. 90 m.")
@click.option(
    "--noise",
    type=click.Choice(["city", "residential", "rural", "quiet_rural"]),
    default=None,
    help="Noise where the station stands; without it the net's.",
)
@channel_option
@click.option(
    "--geotiff", "geotiff_file", metavar="FILE", default=None, help="Write every layer as a GeoTIFF."
)
@click.option(
    "--geojson", "geojson_file", metavar="FILE", default=None, help="Write outlines by grade as GeoJSON."
)
@click.option("--kml", "kml_file", metavar="FILE", default=None, help="Write outlines by grade as KML.")
@map_option
@json_option
@csv_option
@click.option(
    "--keep",
    "keep_folder",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    default=None,
    help="Keep each site's raster here; a later run does not compute it again.",
)
@click.option(
    "--cluster", metavar="ADDRESS", default=None, help="Compute on a Dask cluster, e.g. tcp://host:8786."
)
@replace_option
def command(
    folder: Path,
    call_signs: tuple[str, ...],
    kind: str,
    radius: str,
    resolution: str,
    noise: str | None,
    channel_name: str | None,
    geotiff_file: str | None,
    geojson_file: str | None,
    kml_file: str | None,
    map_file: str | None,
    json_file: str | None,
    csv_file: str | None,
    keep_folder: Path | None,
    cluster: str | None,
    existing: Existing,
) -> None:
    """From where a chosen kind of station gets into a repeater, or reaches a member on simplex, both ways.

    Name one or more repeaters or members; with several, the outlines, map and raster show the best of them.
    """
    check_outputs(geotiff_file, geojson_file, kml_file, map_file, json_file, csv_file, existing=existing)
    if geotiff_file == STANDARD_OUTPUT:
        raise OutputProblem("a GeoTIFF cannot go to standard output; give a file name.")
    from reach.commands.net_folder import open_terrain
    from reach.commands.results import NetAnswer, assumed_notes
    from reach.coverage.memory import check_memory, megabytes
    from reach.coverage.overlay import overlay
    from reach.coverage.raster_polygons import geojson_text, grade_polygons, kml_text
    from reach.coverage.service import StationKind, area_readability, usual_station
    from reach.coverage.sites import compute_sites, site_summary
    from reach.drawings.cautions import SHORT
    from reach.drawings.machine import json_text
    from reach.drawings.palette import GRADE_LINES
    from reach.drawings.tables import answer, notes_text
    from reach.inputs.club import read_net
    from reach.inputs.lookup import find_channel, find_party
    from reach.stations import NoiseEnvironment

    net = read_net(folder)
    channel = find_channel(net, channel_name)
    radius_m, cell_m = _length(radius, "--radius"), _length(resolution, "--resolution")
    parties = [find_party(net, call) for call in dict.fromkeys(call.strip().upper() for call in call_signs)]
    hubs = [_hub(party, channel, net) for party in parties]
    station_kind = StationKind[kind.upper()]
    station = usual_station(station_kind, noise=NoiseEnvironment(noise) if noise else None)
    executor = _executor(cluster, len(hubs))
    at_once = _sites_at_once(executor, len(hubs))
    needed = check_memory(radius_m=radius_m, cell_m=cell_m, sites_at_once=at_once)
    talks = speaks_text(geojson_file, kml_file, map_file, json_file, csv_file)
    if talks:
        click.echo(
            f"takes about {megabytes(needed)} of memory for {radius_m / 1000:g} km on {cell_m:g} m cells.",
            err=True,
        )
    with open_terrain(net) as terrain, _working_folder(keep_folder) as work:
        jobs = [_job(hub, station, net, radius_m=radius_m, cell_m=cell_m) for hub in hubs]
        with progress_bar("radials" if len(jobs) == 1 else "sites") as progress:
            rasters = compute_sites(jobs, work, executor, progress=progress)
        figures = [site_summary(job, raster, net.stations) for job, raster in zip(jobs, rasters)]
        headlines = [_sentence(job, figure, _KIND_WORDS[kind]) for job, figure in zip(jobs, figures)]
        region = overlay(
            [(hub.call_sign, hub.position, raster) for hub, raster in zip(hubs, rasters)], cell_m=cell_m
        )
        notes = _notes(net, parties, station, jobs[0], assumed_notes)
        warnings = tuple(dict.fromkeys((*net.warnings, *terrain.warnings, *_unknown(jobs, figures))))
        if geotiff_file is not None:
            _write_geotiff(Path(geotiff_file), jobs, rasters, region, existing=existing)
        if geojson_file is not None or kml_file is not None:
            polygons = grade_polygons(
                area_readability(region.margin_db),
                cell_m=cell_m,
                crs=region.crs,
                transform=region.transform,
                known=region.known,
            )
            title = f"{', '.join(region.call_signs)}: {station_kind.value}"
            deliver(geojson_text(polygons, title=title), geojson_file, existing=existing)
            colours = {grade: style.colour for grade, style in GRADE_LINES.items()}
            deliver(kml_text(polygons, title=title, colours=colours), kml_file, existing=existing)
        if map_file is not None:
            page = _map_page(
                net, terrain, parties[0], channel, region, title=station_kind.value,
                headline=" ".join(headlines), notes=notes,
            )  # fmt: skip
            deliver(page, map_file, existing=existing)
    result = AreaAnswer(
        kind,
        radius_m / 1000.0,
        cell_m,
        tuple(
            SiteAnswer(job.hub.call_sign, headline, figure)
            for job, headline, figure in zip(jobs, headlines, figures)
        ),
        region.area_km2(region.served_by > 0),
        region.area_km2(region.gaps),
    )
    deliver(json_text(NetAnswer(net.name, result, notes, warnings)), json_file, existing=existing)
    deliver(_csv(jobs, figures), csv_file, existing=existing)
    if talks:
        for job, headline, figure in zip(jobs, headlines, figures):
            say(answer(headline), _table(job, figure), notes_text([""]))
        if len(jobs) > 1:
            say(answer(_together(region)), notes_text([""]))
        say(notes_text([*warnings, *notes, SHORT]))


_LENGTH = re.compile(r"([0-9]+(?:\.[0-9]*)?|\.[0-9]+)\s*(km|m|mi|ft)")
_METRES = {"km": 1000.0, "m": 1.0, "mi": 1609.344, "ft": 0.3048}


def _length(text: str, option: str) -> float:
    """A distance on the map, m: kilometres too, which antenna heights and feed lines never are."""
    found = _LENGTH.fullmatch(text.strip().lower())
    if found is None:
        raise InputProblem(Fault(f'{option}: "{text}" is not a length', "write 50 km, 30 mi or 30 m"))
    return float(found[1]) * _METRES[found[2]]


def _hub(party: Any, channel: Channel, net: Net) -> Hub:
    from reach.coverage.service import repeater_hub, station_hub
    from reach.stations import Station

    if isinstance(party, Station):
        if not party.has_radio_path:
            raise InputProblem(
                Fault(f"{party.call_sign} is linked over the internet and has no radio path", "name another")
            )
        return station_hub(party, channel, net)
    return repeater_hub(party, net)


def _executor(cluster: str | None, sites: int) -> Executor:
    from reach.coverage.executor import Cluster, Here, Processes

    if cluster is not None:
        return Cluster.at(cluster)
    return Here() if sites == 1 else Processes()


def _sites_at_once(executor: Executor, sites: int) -> int:
    from reach.coverage.executor import Processes
    from reach.propagation.parallel import cores

    return min(sites, cores()) if isinstance(executor, Processes) else 1


@contextmanager
def _working_folder(keep: Path | None) -> Iterator[Path]:
    """Where the sites' rasters lie: the user's folder, or one that goes away."""
    if keep is None:
        with tempfile.TemporaryDirectory(prefix="reach-area-") as name:
            yield Path(name)
        return
    if keep.exists() and not keep.is_dir():
        raise OutputProblem(f"{keep} is not a folder; choose another.")
    try:
        keep.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputProblem(f"the folder {keep} could not be made ({error.strerror}).") from error
    check_writable(keep / "site.tif", Existing.REPLACE)
    yield keep


def _job(hub: Hub, station: Any, net: Net, *, radius_m: float, cell_m: float) -> SiteJob:
    from reach.coverage.sites import SiteJob
    from reach.coverage.sweep import area_model

    return SiteJob(
        hub=hub,
        station=station,
        terrain_folders=net.terrain_folders,
        elevation_unit=net.elevation_unit,
        radius_m=radius_m,
        cell_m=cell_m,
        k_factor=net.k_factor,
        net_noise=net.noise,
        model=area_model(net.model, hub.middle_mhz),
    )


def _sentence(job: SiteJob, figures: AreaSummary, kind: str) -> str:
    """The answer for one site."""
    known_km2 = figures.circle_km2 * (1.0 - figures.unknown_share)
    share = figures.served_km2 / known_km2 if known_km2 else 0.0
    return (
        f"{job.hub.call_sign} and {kind} work each other from {figures.served_km2:,.0f} km² within "
        f"{job.radius_m / 1000.0:g} km: {share:.0%} of what is known there."
    )


def _together(region: RegionCoverage) -> str:
    shares = [region.area_km2(region.best_site == i) for i in range(len(region.call_signs))]
    best = ", ".join(f"{call} {area:,.0f} km²" for call, area in zip(region.call_signs, shares))
    return (
        f"Together they serve {region.area_km2(region.served_by > 0):,.0f} km² (best from: {best}); "
        f"{region.area_km2(region.served_by > 1):,.0f} km² has two or more, and "
        f"{region.area_km2(region.gaps):,.0f} km² of what is known has none."
    )


def _notes(
    net: Net, parties: Sequence[Any], station: Any, job: SiteJob, assumed_notes: Any
) -> tuple[str, ...]:
    from reach.coverage.sites import MODEL_WORDS
    from reach.units import dbm_to_watts

    watts = float(dbm_to_watts(station.transmit_power_dbm))
    return (
        f"In the cells: {station.name}, {watts:.3g} W, antenna {station.antenna.kind} at "
        f"{station.antenna.height_m:g} m; {(station.noise or net.noise).value.replace('_', ' ')} noise.",
        f"Cells of {job.cell_m:g} m; {MODEL_WORDS[job.model]}; bare ground, no trees or houses.",
        *assumed_notes(net, tuple(parties)),
    )


def _unknown(jobs: Sequence[SiteJob], figures: Sequence[AreaSummary]) -> list[str]:
    return [
        f"{job.hub.call_sign}: nothing can be said of {figure.unknown_share:.0%} of the circle: "
        "the elevation tiles do not reach there, or a void lies between."
        for job, figure in zip(jobs, figures)
        if figure.unknown_share > 0.0005
    ]


def _table(job: SiteJob, figures: AreaSummary) -> Any:
    from reach.drawings.tables import quiet_table
    from reach.links.grade import Grade

    rows = [
        (f"{grade.word}, R{grade.readability}", f"{area:,.1f}", f"{area / figures.circle_km2:.1%}")
        for grade, area in figures.grade_km2
        if grade is not Grade.NONE or area > 0.0
    ]
    rows.append(
        ("unknown", f"{figures.circle_km2 * figures.unknown_share:,.1f}", f"{figures.unknown_share:.1%}")
    )
    for words, sector in (("best", figures.best), ("worst", figures.worst)):
        if sector is not None:
            rows.append(
                (f"{words} direction", f"{sector.bearing_deg:.0f}°", f"{sector.served_share:.0%} served")
            )
    known = [place for place in figures.places if place.served is not None]
    if known:
        served = sum(bool(place.served) for place in known)
        rows.append(("members' places served", f"{served} of {len(known)}", f"{figures.roster_share:.0%}"))
    return quiet_table(
        f"Weaker direction, {job.hub.call_sign}",
        (("grade", "left"), ("km²", "right"), ("share", "right")),
        rows,
    )


def _csv(jobs: Sequence[SiteJob], figures: Sequence[AreaSummary]) -> str:
    from reach.drawings.machine import csv_text

    rows = [
        (job.hub.call_sign, grade.word, grade.readability, round(area, 3), round(area / figure.circle_km2, 5))
        for job, figure in zip(jobs, figures)
        for grade, area in figure.grade_km2
    ]
    return csv_text(rows, ("site", "grade", "readability", "area_km2", "share_of_circle"))


def _write_geotiff(
    path: Path,
    jobs: Sequence[SiteJob],
    rasters: Sequence[RasterFile],
    region: RegionCoverage,
    *,
    existing: Existing,
) -> None:
    """One site: every layer of it. Several: best margin, best chance, count, best server."""
    import numpy as np

    from reach.coverage.raster import Layer, write_cog

    if len(jobs) == 1:
        raster = rasters[0]
        write_cog(
            path,
            raster.layers,
            crs=raster.crs,
            transform=raster.transform,
            tags=raster.tags,
            existing=existing,
        )
        return
    layers = (
        Layer("best_margin", "dB over workable", region.margin_db),
        Layer("best_chance", "0 to 1", region.chance),
        Layer("served_by", "sites", np.where(region.known, region.served_by, np.nan).astype(np.float32)),
        Layer(
            "best_site",
            "number in SITES from 0, -1 none",
            np.where(region.known, region.best_site, np.nan).astype(np.float32),
        ),
    )
    tags = dict(rasters[0].tags) | {"SITES": " ".join(region.call_signs)}
    tags = {name: value for name, value in tags.items() if not name.startswith("SITE_") and name != "SITE"}
    write_cog(path, layers, crs=region.crs, transform=region.transform, tags=tags, existing=existing)


def _coverage_overlay(region: RegionCoverage, chance: NDArray[Any], name: str) -> CoverageOverlay:
    """Chance classes in the map's projection."""
    from reach.coverage.raster import box_in, warped
    from reach.drawings.picture import CoverageOverlay, MercatorBox, chance_classes

    rows, columns = chance.shape
    t = region.transform
    edges = (t.c, t.f + rows * t.e, t.c + columns * t.a, t.f)
    box = box_in("EPSG:3857", crs=region.crs, box=edges)
    longer = max(box[2] - box[0], box[3] - box[1])
    pixel = longer / min(LONGEST_SIDE_PIXELS, max(rows, columns))
    shape = (max(1, round((box[3] - box[1]) / pixel)), max(1, round((box[2] - box[0]) / pixel)))
    picture = warped(
        chance, crs=region.crs, transform=region.transform, to_crs="EPSG:3857", box=box, shape=shape
    )
    return CoverageOverlay(name, chance_classes(picture), MercatorBox(*box))


def _map_page(
    net: Net,
    terrain: Terrain,
    party: Any,
    channel: Channel,
    region: RegionCoverage,
    *,
    title: str,
    headline: str,
    notes: Sequence[str],
) -> str:
    """The net on its relief with the coverage laid over it."""
    from reach.drawings.ground import places_of, relief_around
    from reach.drawings.net_map import repeater_map, simplex_map
    from reach.links.survey import survey_repeater, survey_simplex
    from reach.stations import Station

    cover = _coverage_overlay(
        region, region.chance, f"{title}: chance of working {', '.join(region.call_signs)}"
    )
    relief = relief_around(terrain, places_of(net))
    with progress_bar("paths") as progress:
        if isinstance(party, Station):
            network = survey_simplex(net, terrain, channel, progress=progress)
            return simplex_map(network, headline=headline, relief=relief, overlays=[cover], notes=notes)
        members = survey_repeater(net, terrain, party, progress=progress)
    return repeater_map(members, headline=headline, relief=relief, overlays=[cover], notes=notes)
