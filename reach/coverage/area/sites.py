"""One site after another, each to its own file: what a cluster works through, and what is finished stays."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from reach import __version__
from reach.coverage.area.raster import Layer, RasterFile, read_raster, write_cog
from reach.coverage.area.service import AreaService, Hub, area_path, area_service
from reach.coverage.area.summary import AreaSummary, summarise
from reach.coverage.sweep.grid import SiteGrid, opened_land_cover, sea_cells, site_grid, with_cover
from reach.coverage.sweep.loss import AreaLoss, Clearance, area_loss
from reach.coverage.sweep.path import AreaModel, AreaPath, area_model
from reach.errors import InputProblem, OutOfRange
from reach.files import Existing
from reach.links.land import net_cover
from reach.machinery.compiled import compiled_before, sources_stamp
from reach.machinery.executor import Executor, Here
from reach.machinery.progress import Parts, Progress, untold
from reach.propagation.typical_land.model import Cover
from reach.stations import Net, NoiseEnvironment, Station
from reach.terrain.tiles import Terrain

_HERE = Path(__file__).parent
PATH_LOSS, CLEARANCE = "path_loss", "fresnel_clearance"
MODEL_WORDS = {
    AreaModel.DELTA_BULLINGTON: "delta-Bullington (Rec. ITU-R P.526-15)",
    AreaModel.P1812: "Rec. ITU-R P.1812-7, median",
    AreaModel.TYPICAL_LAND: "typical land: Rec. ITU-R P.1812-7, median, and P.2108-1, 3.1",
}
COVER_WORDS = {
    Cover.BARE: "bare",
    Cover.USUAL: "what stands round the stations",
    Cover.GIVEN: "land cover of the raster",
}
TALK_IN, TALK_OUT, CHANCE, LAND = "talk_in_margin", "talk_out_margin", "chance", "land"


@dataclass(frozen=True)
class SiteJob:
    """Everything one site's area plan needs; travels to other processes and machines.

    net_noise : environment where the station names none.
    """

    hub: Hub
    station: Station
    terrain_folders: tuple[str, ...]
    elevation_unit: str
    radius_m: float
    cell_m: float
    k_factor: float
    net_noise: NoiseEnvironment
    model: AreaModel = AreaModel.TYPICAL_LAND
    cover: Cover = Cover.USUAL
    land_cover: str | None = None
    clutter_heights_m: tuple[tuple[str, float], ...] = ()


def site_job(hub: Hub, station: Station, net: Net, *, radius_m: float, cell_m: float) -> SiteJob:
    """What is to be computed for a hub of a net and a kind of station.

    Raises : OutOfRange naming the hub, for values its net's model does not take.
    """
    job = SiteJob(
        hub=hub,
        station=station,
        terrain_folders=net.terrain_folders,
        elevation_unit=net.elevation_unit,
        radius_m=radius_m,
        cell_m=cell_m,
        k_factor=net.k_factor,
        net_noise=net.noise,
        model=area_model(net.model),
        cover=net_cover(net),
        land_cover=net.land_cover,
        clutter_heights_m=net.clutter_heights_m,
    )
    try:
        _path_of(job).check()
    except OutOfRange as error:
        raise OutOfRange(f"{hub.call_sign}: {error}; correct it in the net folder.") from error
    return job


def _path_of(job: SiteJob) -> AreaPath:
    return area_path(job.hub, job.station, k_factor=job.k_factor, model=job.model, cover=job.cover)


def site_service(
    job: SiteJob, terrain: Terrain, *, threads: int | None = None, progress: Progress | None = None
) -> AreaService:
    """Compute one site. Raises : MissingTerrain, OutOfRange, naming the site."""
    grid = site_grid(
        terrain, job.hub.position, radius_m=job.radius_m, cell_m=job.cell_m, who=job.hub.call_sign
    )
    with opened_land_cover(job.land_cover, job.clutter_heights_m) as land_cover:
        grid = grid if land_cover is None else with_cover(grid, land_cover, terrain)
    loss = area_loss(grid, _path_of(job), Clearance.COMPUTE, threads=threads, progress=progress)
    return area_service(loss, job.hub, job.station, net_noise=job.net_noise, threads=threads)


def service_layers(service: AreaService) -> tuple[Layer, ...]:
    """The bands of a site's raster."""
    clearance, ground_m = service.loss.clearance, service.grid.elevation_m
    assert clearance is not None
    land = np.where(np.isnan(ground_m), ground_m, ~sea_cells(ground_m)).astype(np.float32)
    return (
        Layer(PATH_LOSS, "dB", service.loss.loss_db),
        Layer(TALK_IN, "dB over workable", service.talk_in_margin_db),
        Layer(TALK_OUT, "dB over workable", service.talk_out_margin_db),
        Layer(CHANCE, "0 to 1", service.chance),
        Layer(CLEARANCE, "first Fresnel radii", clearance),
        Layer(LAND, "1 land, 0 sea", land),
    )


def service_tags(service: AreaService) -> dict[str, str]:
    """The parameters of a site's raster, as text."""
    hub, station, path = service.hub, service.station, service.loss.path
    heard = {}
    if hub.heard is not None:
        heard = {"HEARD_IN_DB": f"{hub.heard.in_db:+.2f}", "HEARD_OUT_DB": f"{hub.heard.out_db:+.2f}"}
    return {
        **heard,
        "SITE": hub.call_sign,
        "SITE_LATITUDE_DEG": f"{hub.position.latitude_deg:.6f}",
        "SITE_LONGITUDE_DEG": f"{hub.position.longitude_deg:.6f}",
        "SITE_ANTENNA_HEIGHT_M": f"{path.site_height_m:g}",
        "STATION_KIND": station.name,
        "STATION_ANTENNA_HEIGHT_M": f"{path.far_height_m:g}",
        "STATION_TRANSMIT_POWER_DBM": f"{station.transmit_power_dbm:.2f}",
        "TALK_IN_MHZ": f"{hub.input_mhz:.8g}",
        "TALK_OUT_MHZ": f"{hub.output_mhz:.8g}",
        "PATH_MHZ": f"{path.frequency_mhz:.4f}",
        "MODEL": MODEL_WORDS[path.model],
        "EFFECTIVE_EARTH_RADIUS_KM": f"{path.radius_km:.1f}",
        "GROUND": f"{COVER_WORDS[path.cover]}; all of it inland, the sea too",
        "CELL_M": f"{service.grid.cell_m:g}",
        "UNKNOWN_SHARE": f"{service.loss.unknown_share:.4f}",
        "CAUTION": "A prediction is not a promise: test on the air before you rely on it.",
    }


def job_digest(job: SiteJob) -> str:
    """A name that changes with anything the result depends on: elevation files and formulas included."""
    kernels = [sources_stamp(_HERE), sources_stamp(_HERE.parent / "sweep")]
    digest = hashlib.blake2b(f"{__version__} {kernels} {job!r}".encode(), digest_size=8)
    for place in (*job.terrain_folders, *([job.land_cover] if job.land_cover else [])):
        root = Path(place)
        for path in sorted(root.rglob("*")) if root.is_dir() else [root]:
            if path.is_file():
                state = path.stat()
                digest.update(f"{path.name} {state.st_size} {state.st_mtime_ns}\n".encode())
    return digest.hexdigest()


def site_file(job: SiteJob, folder: Path) -> Path:
    """Where a job's raster goes: its call sign and its digest."""
    safe = "".join(c if c.isalnum() else "-" for c in job.hub.call_sign)
    return folder / f"{safe}-{job_digest(job)}.tif"


def computed_site(
    job: SiteJob, threads: int | None = None, progress: Progress | None = None, terrain: Terrain | None = None
) -> RasterFile:
    """One site's raster in memory. terrain : the job's own, where it is open already.

    Raises : as site_service.
    """
    if terrain is None:
        with Terrain.open(job.terrain_folders, elevation_unit=job.elevation_unit) as own:
            return computed_site(job, threads, progress, own)
    service = site_service(job, terrain, threads=threads, progress=progress)
    grid = service.grid
    return RasterFile(service_layers(service), grid.crs, grid.transform, service_tags(service))


def compute_site(
    job: SiteJob,
    folder: Path,
    threads: int | None = None,
    progress: Progress | None = None,
    terrain: Terrain | None = None,
) -> Path:
    """Compute one site into its file, unless it is there already; the file. Arguments as `computed_site`."""
    target = site_file(job, folder)
    if not target.exists():
        raster = computed_site(job, threads, progress, terrain)
        write_cog(
            target,
            raster.layers,
            crs=raster.crs,
            transform=raster.transform,
            tags=raster.tags,
            existing=Existing.REPLACE,
        )
    return target


def compute_sites(
    jobs: Sequence[SiteJob], folder: Path | None, executor: Executor, *, terrain: Terrain | None = None,
    progress: Progress | None = None,
) -> tuple[RasterFile, ...]:  # fmt: skip
    """Compute many sites.

    folder : where their files are kept, and those that lie there already are only read; None keeps nothing
    and writes nothing. terrain : the jobs' own, where it is open here.
    progress : counts the parts of the sweeps here, the sites on a cluster.
    Results are the same whatever the executor. Interrupted, finished files stay and the next run goes on.
    Raises : as site_service; OutputProblem; InputProblem for a file that was spoilt since.
    """
    threads = executor.threads_a_task(len(jobs))
    if not isinstance(executor, Here):  # what is sent to a cluster takes neither open files nor a callback
        if folder is None:
            return tuple(executor.run(partial(computed_site, threads=threads), jobs, progress=progress))
        files = executor.run(partial(compute_site, folder=folder, threads=threads), jobs, progress=progress)
        return _read_back(jobs, files, folder)
    told = Parts(progress or untold, len(jobs))
    numbers = range(len(jobs))
    if folder is None:
        return tuple(executor.run(lambda n: computed_site(jobs[n], threads, told.of(n), terrain), numbers))
    files = executor.run(lambda n: compute_site(jobs[n], folder, threads, told.of(n), terrain), numbers)
    return _read_back(jobs, files, folder)


def _read_back(jobs: Sequence[SiteJob], files: Sequence[Path], folder: Path) -> tuple[RasterFile, ...]:
    """The sites' rasters from their files; one that was spoilt since is computed again."""
    rasters = []
    for job, path in zip(jobs, files):
        try:
            rasters.append(read_raster(path))
        except InputProblem:
            path.unlink()
            rasters.append(read_raster(compute_site(job, folder)))
    return tuple(rasters)


def service_of(job: SiteJob, raster: RasterFile) -> AreaService:
    """A site's service read back from its raster; the elevation is not in it and stays NaN."""
    loss_db = raster.layer(PATH_LOSS).values
    grid = SiteGrid(
        job.hub.position, np.full(loss_db.shape, np.nan, np.float32), job.cell_m, raster.crs, raster.transform
    )
    loss = AreaLoss(grid, _path_of(job), loss_db, raster.layer(CLEARANCE).values)
    margins = (raster.layer(name).values for name in (TALK_IN, TALK_OUT, CHANCE))
    return AreaService(loss, job.hub, job.station, *margins)


def site_summary(job: SiteJob, raster: RasterFile, stations: Sequence[Station]) -> AreaSummary:
    """Figures of a site from its raster; stations : the roster."""
    return summarise(service_of(job, raster), stations, land=raster.layer(LAND).values > 0.5)


def loops_compiled() -> bool:
    """Whether the sweep's loops lie on disk compiled, so that the first site starts at once."""
    from reach.coverage.sweep._sweep_kernel import sweep  # only where asked: loading it takes a while

    return compiled_before(sweep)
