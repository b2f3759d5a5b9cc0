"""`reach area`: from where a chosen kind of station gets in, for every cell round a repeater or a member."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from reach.commands.area_report import KIND_WORDS, SiteReport
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
from reach.units import METRES_PER_FOOT, METRES_PER_MILE

if TYPE_CHECKING:
    from reach.coverage.area.overlay import RegionCoverage
    from reach.coverage.area.raster import RasterFile
    from reach.coverage.area.service import Hub
    from reach.coverage.area.summary import AreaSummary
    from reach.machinery.executor import Executor
    from reach.stations import Channel, Net

KINDS = tuple(KIND_WORDS)


@dataclass(frozen=True)
class SiteAnswer:
    """One site for machines; areas in km2, of land, shares 0 to 1, bearings in degrees from true north."""

    call_sign: str
    headline: str
    figures: AreaSummary


@dataclass(frozen=True)
class AreaAnswer:
    """All sites, and together: known land that one or more, two or more, or none of them serves."""

    headline: str

    station_kind: str
    radius_km: float
    cell_m: float
    sites: tuple[SiteAnswer, ...]
    served_km2: float
    served_twice_km2: float
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
    from reach.commands.area_map import area_map
    from reach.commands.area_report import (
        area_csv,
        area_doubts,
        area_notes,
        best_sentence,
        site_sentence,
        site_table,
        together_sentence,
    )
    from reach.commands.net_folder import open_terrain
    from reach.commands.results import NetAnswer, assumed_notes
    from reach.coverage.area.memory import check_memory, megabytes
    from reach.coverage.area.overlay import overlay
    from reach.coverage.area.raster_polygons import geojson_text, grade_polygons, kml_text
    from reach.coverage.area.service import StationKind, area_readability, usual_station
    from reach.coverage.area.sites import compute_sites, site_job, site_summary
    from reach.drawings.exports.machine import json_text
    from reach.drawings.style.cautions import SHORT
    from reach.drawings.style.palette import GRADE_LINES
    from reach.drawings.tables.terminal import answer, notes_text
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
    jobs = [site_job(hub, station, net, radius_m=radius_m, cell_m=cell_m) for hub in hubs]
    executor = _executor(cluster, len(hubs))
    needed = check_memory(
        [hub.position for hub in hubs],
        radius_m=radius_m,
        cell_m=cell_m,
        workers=_workers(executor, len(hubs)),
    )
    talks = speaks_text(geojson_file, kml_file, map_file, json_file, csv_file)
    if talks:
        click.echo(
            f"takes about {megabytes(needed)} of memory for {radius_m / 1000:g} km on {cell_m:g} m cells.",
            err=True,
        )
    _announce_compiling()
    with open_terrain(net) as terrain, _working_folder(keep_folder) as work:
        with progress_bar("radials" if len(jobs) == 1 else "sites") as progress:
            rasters = compute_sites(jobs, work, executor, progress=progress)
        sites = [
            SiteReport(party, job, raster, site_summary(job, raster, net.stations))
            for party, job, raster in zip(parties, jobs, rasters)
        ]
        region = overlay(
            [(site.call_sign, site.job.hub.position, site.raster) for site in sites], cell_m=cell_m
        )
        headlines = [site_sentence(site, KIND_WORDS[kind]) for site in sites]
        first = headlines[0]
        if len(sites) > 1:
            first = together_sentence(region, radius_km=radius_m / 1000.0, kind=KIND_WORDS[kind])
        notes = area_notes(net, sites, station, assumed_notes(net, tuple(parties)))
        warnings = tuple(dict.fromkeys((*net.warnings, *terrain.warnings, *area_doubts(net, sites))))
        if geotiff_file is not None:
            _write_geotiff(Path(geotiff_file), rasters, region, existing=existing)
        if geojson_file is not None or kml_file is not None:
            polygons = grade_polygons(
                area_readability(region.margin_db),
                cell_m=cell_m,
                crs=region.crs,
                transform=region.transform,
                known=region.known,
                land=region.land,
            )
            title = f"{', '.join(region.call_signs)}: {station_kind.value}"
            deliver(geojson_text(polygons, title=title), geojson_file, existing=existing)
            colours = {grade: style.colour for grade, style in GRADE_LINES.items()}
            deliver(kml_text(polygons, title=title, colours=colours), kml_file, existing=existing)
        if map_file is not None:
            page = area_map(
                net,
                terrain,
                sites,
                region,
                kind=KIND_WORDS[kind],
                headline=first,
                notes=notes,
                warnings=warnings,
            )
            deliver(page, map_file, existing=existing)
    ashore = region.known & region.land
    result = AreaAnswer(
        first,
        kind,
        radius_m / 1000.0,
        cell_m,
        tuple(SiteAnswer(site.call_sign, headline, site.figures) for site, headline in zip(sites, headlines)),
        region.area_km2(ashore & (region.served_by > 0)),
        region.area_km2(ashore & (region.served_by > 1)),
        region.area_km2(ashore & (region.served_by == 0)),
    )
    deliver(json_text(NetAnswer(net.name, result, notes, warnings)), json_file, existing=existing)
    deliver(area_csv(sites), csv_file, existing=existing)
    if talks:
        if len(sites) > 1:
            say(answer(first), notes_text([best_sentence(region), ""]))
        for site, headline in zip(sites, headlines):
            say(answer(headline), site_table(site), notes_text([""]))
        say(notes_text([*warnings, *notes, SHORT]))


def _announce_compiling() -> None:
    """On a terminal, say why the first run takes longer than its bar will show."""
    if not sys.stderr.isatty():
        return
    from reach.coverage.sweep._sweep_kernel import sweep
    from reach.machinery.compiled import compiled_before

    if not compiled_before(sweep):
        click.echo("preparing the fast loops: some ten seconds, the first time only.", err=True)


_LENGTH = re.compile(r"([0-9]+(?:\.[0-9]*)?|\.[0-9]+)\s*(km|m|mi|ft)")
_METRES = {"km": 1000.0, "m": 1.0, "mi": METRES_PER_MILE, "ft": METRES_PER_FOOT}


def _length(text: str, option: str) -> float:
    """A distance on the map, m: kilometres too, which antenna heights and feed lines never are."""
    found = _LENGTH.fullmatch(text.strip().lower())
    if found is None and re.fullmatch(r"[0-9.]+", text.strip()):
        fix = f"write {text.strip()} km, {text.strip()} mi, {text.strip()} m or {text.strip()} ft"
        raise InputProblem(Fault(f'{option}: "{text}" has no unit', fix))
    if found is None:
        raise InputProblem(Fault(f'{option}: "{text}" is not a length', "write 50 km, 30 mi or 30 m"))
    return float(found[1]) * _METRES[found[2]]


def _hub(party: Any, channel: Channel, net: Net) -> Hub:
    from reach.coverage.area.service import repeater_hub, station_hub
    from reach.stations import Station

    if isinstance(party, Station):
        if not party.has_radio_path:
            raise InputProblem(
                Fault(f"{party.call_sign} is linked over the internet and has no radio path", "name another")
            )
        return station_hub(party, channel, net)
    return repeater_hub(party, net)


def _executor(cluster: str | None, sites: int) -> Executor:
    from reach.machinery.executor import Cluster, Here, Processes

    if cluster is not None:
        return Cluster.at(cluster)
    return Here() if sites == 1 else Processes()


def _workers(executor: Executor, sites: int) -> int:
    """Processes beside this one on this machine."""
    from reach.machinery.executor import Processes
    from reach.machinery.parallel import cores

    return min(sites, cores()) if isinstance(executor, Processes) else 0


@contextmanager
def _working_folder(keep: Path | None) -> Iterator[Path | None]:
    """Where the sites' rasters are kept: the user's folder, or nowhere."""
    if keep is None:
        yield None
        return
    if keep.exists() and not keep.is_dir():
        raise OutputProblem(f"{keep} is not a folder; choose another.")
    try:
        keep.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputProblem(f"the folder {keep} could not be made ({error.strerror}).") from error
    check_writable(keep / "site.tif", Existing.REPLACE)
    yield keep


def _write_geotiff(
    path: Path,
    rasters: Sequence[RasterFile],
    region: RegionCoverage,
    *,
    existing: Existing,
) -> None:
    """One site: its own raster, every layer of it. Several: best margin, best chance, count, best server."""
    import numpy as np

    from reach.coverage.area.raster import Layer, write_cog

    if len(rasters) == 1:
        one = rasters[0]
        write_cog(path, one.layers, crs=one.crs, transform=one.transform, tags=one.tags, existing=existing)
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
    own = ("SITE", "TALK_IN_MHZ", "TALK_OUT_MHZ", "PATH_MHZ", "UNKNOWN_SHARE")
    tags = {name: value for name, value in rasters[0].tags.items() if not name.startswith(own)}
    tags["SITES"] = " ".join(region.call_signs)
    write_cog(path, layers, crs=region.crs, transform=region.transform, tags=tags, existing=existing)
