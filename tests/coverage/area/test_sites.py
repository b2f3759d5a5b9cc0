"""Many sites: the same result however they are run, and nothing computed twice."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from reach.coverage.area import sites
from reach.coverage.area.overlay import NO_SITE, overlay
from reach.coverage.area.raster import RasterFile, read_raster
from reach.coverage.area.service import StationKind, repeater_hub, usual_station
from reach.coverage.area.sites import (
    CHANCE,
    TALK_IN,
    TALK_OUT,
    SiteJob,
    compute_site,
    compute_sites,
    job_digest,
    service_of,
    site_file,
    site_summary,
)
from reach.errors import MissingTerrain
from reach.machinery.executor import Cluster, Here
from reach.stations import Antenna, Channel, Net, NoiseEnvironment, Position, Repeater
from tests.coverage.conftest import relief

STEP = 1.0 / 1200.0
HERE = Position(41.05, -38.05)
THERE = Position(41.02, -38.01)


@pytest.fixture(scope="module")
def tiles(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("tiles")
    ground = relief(240, seed=6, slope=2.6, spread_m=150.0)
    with rasterio.open(
        folder / "ground.tif", "w", driver="GTiff", width=240, height=240, count=1,
        dtype="float32", crs="EPSG:4326", transform=from_origin(-38.15, 41.15, STEP, STEP),
    ) as sink:  # fmt: skip
        sink.write(ground, 1)
        sink.units = ("m",)
    return folder


def job_at(position: Position, call_sign: str, tiles: Path) -> SiteJob:
    repeater = Repeater(call_sign, "hill", position, 146.94, 146.34, Antenna(20.0, 5.0), 20.0)
    net = Net("invented", (Channel("two", 146.52),), (repeater,), ())
    return SiteJob(
        hub=repeater_hub(repeater, net),
        station=usual_station(StationKind.HANDHELD),
        terrain_folders=(str(tiles),),
        elevation_unit="m",
        radius_m=5000.0,
        cell_m=60.0,
        k_factor=4 / 3,
        net_noise=NoiseEnvironment.RESIDENTIAL,
    )


@pytest.fixture(scope="module")
def jobs(tiles: Path) -> list[SiteJob]:
    return [job_at(HERE, "QK3RA", tiles), job_at(THERE, "QK3RB", tiles)]


@pytest.fixture(scope="module")
def rasters(jobs: list[SiteJob], tmp_path_factory: pytest.TempPathFactory) -> tuple[RasterFile, ...]:
    return compute_sites(jobs, tmp_path_factory.mktemp("here"), Here())


def same(one: RasterFile, other: RasterFile) -> bool:
    return dict(one.tags) == dict(other.tags) and all(
        a.name == b.name and np.array_equal(a.values, b.values, equal_nan=True)
        for a, b in zip(one.layers, other.layers, strict=True)
    )


def test_nothing_is_written_where_nothing_is_kept(
    jobs: list[SiteJob], rasters: tuple[RasterFile, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sites, "write_cog", None)
    for chosen in (jobs, jobs[:1]):
        found = compute_sites(chosen, None, Here())
        for a, b in zip(rasters, found, strict=False):
            assert [layer.name for layer in a.layers] == [layer.name for layer in b.layers]
            for one, other in zip(a.layers, b.layers, strict=True):
                assert np.array_equal(one.values, other.values, equal_nan=True)


def test_one_site_alone_is_its_own_region(rasters: tuple[RasterFile, ...]) -> None:
    region = overlay([("QK3RA", HERE, rasters[0])], cell_m=60.0)
    margin = np.minimum(rasters[0].layer(TALK_IN).values, rasters[0].layer(TALK_OUT).values)
    assert np.array_equal(region.margin_db, margin, equal_nan=True)
    assert np.array_equal(region.served_by > 0, margin >= 0.0)
    assert np.array_equal(region.best_site, np.where(margin >= 0.0, 0, NO_SITE))
    assert region.transform == rasters[0].transform


def test_side_by_side_or_alone_gives_the_very_same_rasters(
    jobs: list[SiteJob], rasters: tuple[RasterFile, ...], tmp_path: Path
) -> None:
    told: list[tuple[int, int]] = []
    found = [
        compute_sites([job], tmp_path, Here(), progress=lambda done, total: told.append((done, total)))[0]
        for job in jobs
    ]
    assert all(same(a, b) for a, b in zip(rasters, found, strict=True))
    assert told[-1][0] == told[-1][1] and len(told) > 2


def test_a_cluster_gives_the_very_same_rasters(
    jobs: list[SiteJob], rasters: tuple[RasterFile, ...], tmp_path: Path
) -> None:
    distributed = pytest.importorskip("distributed", reason="the cluster extra is not installed")
    # two threads in one worker: sweeps side by side in one process must not meet
    with (
        distributed.LocalCluster(
            n_workers=1, threads_per_worker=2, processes=True, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster, set_as_default=False) as client,
    ):
        found = compute_sites(jobs, tmp_path, Cluster(client))
    assert all(same(a, b) for a, b in zip(rasters, found, strict=True))


def test_finished_sites_are_not_computed_again(
    jobs: list[SiteJob], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = compute_site(jobs[0], tmp_path)
    before = first.stat().st_mtime_ns
    computed: list[str] = []
    honest = sites.site_service

    def counted(job: SiteJob, *arguments: Any, **options: Any) -> Any:
        computed.append(job.hub.call_sign)
        return honest(job, *arguments, **options)

    monkeypatch.setattr(sites, "site_service", counted)
    compute_sites(jobs, tmp_path, Here())
    assert computed == ["QK3RB"] and first.stat().st_mtime_ns == before
    compute_sites(jobs, tmp_path, Here())
    assert computed == ["QK3RB"]


def test_a_spoilt_raster_is_computed_again(
    jobs: list[SiteJob], rasters: tuple[RasterFile, ...], tmp_path: Path
) -> None:
    site_file(jobs[0], tmp_path).write_bytes(b"II*\0" + bytes(20))
    assert same(compute_sites(jobs[:1], tmp_path, Here())[0], rasters[0])


def test_anything_that_matters_changes_the_name_of_the_file(jobs: list[SiteJob], tiles: Path) -> None:
    job = jobs[0]
    names = {
        job_digest(job),
        job_digest(replace(job, radius_m=5060.0)),
        job_digest(replace(job, cell_m=30.0)),
        job_digest(replace(job, k_factor=1.0)),
        job_digest(replace(job, net_noise=NoiseEnvironment.CITY)),
        job_digest(replace(job, station=usual_station(StationKind.MOBILE))),
        job_digest(replace(job, hub=replace(job.hub, antenna=replace(job.hub.antenna, height_m=21.0)))),
    }
    (tiles / "note.txt").write_text("more tiles", encoding="utf-8")
    names.add(job_digest(job))
    (tiles / "note.txt").unlink()
    assert len(names) == 8
    assert job_digest(job) == job_digest(replace(job))


def test_a_call_sign_cannot_lead_out_of_the_folder(jobs: list[SiteJob], tmp_path: Path) -> None:
    wild = replace(jobs[0], hub=replace(jobs[0].hub, call_sign="../QK3/P"))
    assert site_file(wild, tmp_path).parent == tmp_path


def test_a_site_without_ground_is_named_and_leaves_nothing(jobs: list[SiteJob], tmp_path: Path) -> None:
    lost = replace(jobs[0], hub=replace(jobs[0].hub, call_sign="QK3ZZ", position=Position(10.0, -38.0)))
    with pytest.raises(MissingTerrain, match="QK3ZZ"):
        compute_sites([lost], tmp_path, Here())
    assert list(tmp_path.iterdir()) == []


def test_figures_read_back_are_those_of_the_raster(
    jobs: list[SiteJob], rasters: tuple[RasterFile, ...]
) -> None:
    service = service_of(jobs[0], rasters[0])
    figures = site_summary(jobs[0], rasters[0], [])
    known = ~np.isnan(service.chance)
    assert figures.served_km2 == pytest.approx(
        np.count_nonzero(known & (service.weaker_margin_db >= 0.0)) * 0.0036
    )
    assert rasters[0].tags["SITE"] == "QK3RA" and rasters[0].tags["CELL_M"] == "60"


def test_overlay_takes_the_best_site_and_counts_them(rasters: tuple[RasterFile, ...]) -> None:
    region = overlay([("QK3RB", THERE, rasters[1]), ("QK3RA", HERE, rasters[0])], cell_m=60.0)
    assert region.call_signs == ("QK3RA", "QK3RB")
    margins = []
    from pyproj import Transformer

    rows, columns = region.served_by.shape
    t = region.transform
    x = t.c + (np.arange(columns) + 0.5) * 60.0
    y = t.f - (np.arange(rows) + 0.5) * 60.0
    xs, ys = np.meshgrid(x, y)
    for raster in rasters:
        weaker = np.minimum(raster.layer(TALK_IN).values, raster.layer(TALK_OUT).values)
        east, north = Transformer.from_crs(region.crs, raster.crs, always_xy=True).transform(xs, ys)
        own = raster.transform
        column = np.floor((east - own.c) / 60.0).astype(int)
        row = np.floor((own.f - north) / 60.0).astype(int)
        inside = (row >= 0) & (row < weaker.shape[0]) & (column >= 0) & (column < weaker.shape[1])
        margin = np.full(xs.shape, np.nan)
        margin[inside] = weaker[row[inside], column[inside]]
        margins.append(margin)
    stack = np.array(margins)
    with np.errstate(invalid="ignore"):
        served = (stack >= 0.0).sum(axis=0)
        best = np.fmax(stack[0], stack[1])
    # cells whose corner falls on an edge between two may go to either: nearly all agree
    assert (served == region.served_by).mean() > 0.995
    both_known = ~np.isnan(best) & region.known
    assert np.mean(np.abs(best[both_known] - region.margin_db[both_known]) < 1e-4) > 0.99
    assert ((region.best_site == NO_SITE) == (region.served_by == 0)).all()
    assert region.gaps.sum() == (region.known & (region.served_by == 0)).sum() > 0
    assert region.area_km2(region.known) > 100.0
    assert 0.0 <= np.nanmin(region.chance) <= np.nanmax(region.chance) <= 1.0
    assert {layer.name for layer in rasters[0].layers} >= {CHANCE}


def test_the_circles_asked_for_hold_all_that_is_known(rasters: tuple[RasterFile, ...]) -> None:
    region = overlay([("QK3RA", HERE, rasters[0]), ("QK3RB", THERE, rasters[1])], cell_m=60.0)
    asked = region.within([(HERE, 5040.0), (THERE, 5040.0)])
    # all but cells on the rim, where the nearest cell of the other grid decides
    assert (region.known & ~asked).sum() < 0.01 * region.known.sum()
    only = region.area_km2(region.within([(HERE, 5000.0)]))
    assert only == pytest.approx(np.pi * 25.0, rel=0.01)
    assert region.within([]).sum() == 0
    ashore = region.known & region.land
    assert ashore.sum() == region.known.sum()  # the relief is well above the sea


def test_rasters_read_back_from_their_files(
    jobs: list[SiteJob], rasters: tuple[RasterFile, ...], tmp_path: Path
) -> None:
    assert same(read_raster(compute_site(jobs[1], tmp_path)), rasters[1])
