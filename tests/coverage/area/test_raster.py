"""Coverage rasters on disk: what is in them, and nothing left behind when writing fails."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine

from reach.coverage.area.raster import Layer, box_in, read_raster, warped, write_cog, write_plain
from reach.coverage.sweep.grid import site_crs
from reach.errors import InputProblem, OutputProblem
from reach.files import Existing
from tests.coverage.conftest import SEA_SITE

VALUES = np.random.default_rng(1).normal(120.0, 20.0, (700, 700)).astype(np.float32)
VALUES[:40, :40] = np.nan
LAYERS = (Layer("path_loss", "dB", VALUES), Layer("chance", "0 to 1", np.clip(VALUES / 200.0, 0.0, 1.0)))
WHERE = {"crs": site_crs(SEA_SITE), "transform": Affine(30.0, 0.0, -10_500.0, 0.0, -30.0, 10_500.0)}
Writer = Callable[..., None]


@pytest.mark.parametrize("write", [write_cog, write_plain])
def test_a_raster_comes_back_as_it_was_written(write: Writer, tmp_path: Path) -> None:
    path = tmp_path / "area.tif"
    write(path, LAYERS, tags={"SITE": "QK3RA", "CELL_M": "30"}, **WHERE)
    back = read_raster(path)
    for wrote, read in zip(LAYERS, back.layers):
        assert (read.name, read.unit) == (wrote.name, wrote.unit)
        assert np.array_equal(read.values, wrote.values, equal_nan=True)
    assert back.tags["SITE"] == "QK3RA" and back.transform == WHERE["transform"]
    with rasterio.open(path) as source:
        assert np.isnan(source.nodata) and source.dtypes == ("float32", "float32")
        assert source.crs.to_dict()["proj"] == "aeqd"
    assert list(tmp_path.iterdir()) == [path]
    with pytest.raises(KeyError):
        back.layer("no such")


def test_the_shared_raster_is_cloud_optimised(tmp_path: Path) -> None:
    path = tmp_path / "area.tif"
    write_cog(path, LAYERS, tags={}, **WHERE)
    with rasterio.open(path) as source:
        assert source.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
        assert source.overviews(1) == [2]
        assert source.block_shapes[0] == (512, 512)


@pytest.mark.parametrize("write", [write_cog, write_plain])
def test_what_is_there_is_not_written_over_unasked(write: Writer, tmp_path: Path) -> None:
    path = tmp_path / "area.tif"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(OutputProblem, match="already exists"):
        write(path, LAYERS, tags={}, **WHERE)
    assert path.read_text(encoding="utf-8") == "mine"
    write(path, LAYERS, tags={}, existing=Existing.REPLACE, **WHERE)
    assert read_raster(path).layers[0].name == "path_loss"


@pytest.mark.skipif(sys.platform == "win32", reason="needs a limit on file size")
@pytest.mark.parametrize("writer", ["write_cog", "write_plain"])
@pytest.mark.parametrize(("side", "limit"), [(900, 300_000), (300, 100_000), (300, 200)])
def test_a_full_disk_leaves_nothing_behind(writer: str, side: int, limit: int, tmp_path: Path) -> None:
    """A limit on the size of a file stands in for the full disk: writes fail part-way the same, a small
    raster's only when the file is closed."""
    script = f"""
import resource, signal, sys
import numpy as np
from affine import Affine
from pathlib import Path
from reach.coverage.area.raster import Layer, {writer}
from reach.errors import OutputProblem
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
values = np.random.default_rng(1).random(({side}, {side})).astype(np.float32)
resource.setrlimit(resource.RLIMIT_FSIZE, ({limit}, {limit}))
try:
    {writer}(Path(sys.argv[1]) / "area.tif", [Layer("path_loss", "dB", values)], crs="EPSG:32623",
        transform=Affine(30, 0, 0, 0, -30, 0), tags={{}})
except OutputProblem as error:
    print("refused:", error)
"""
    done = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path)], capture_output=True, text=True, timeout=120
    )
    assert "refused:" in done.stdout and "nothing was left behind" in done.stdout, done.stdout + done.stderr
    assert writer == "write_plain" or done.stderr == ""
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(hasattr(os, "geteuid") and os.geteuid() == 0, reason="root may write anywhere")
def test_a_read_only_folder_is_refused(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(OutputProblem, match="cannot be written to"):
            write_cog(tmp_path / "area.tif", LAYERS, tags={}, **WHERE)
    finally:
        tmp_path.chmod(0o700)


def test_a_missing_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OutputProblem, match="does not exist"):
        write_cog(tmp_path / "nowhere" / "area.tif", LAYERS, tags={}, **WHERE)


def test_a_spoilt_raster_is_named(tmp_path: Path) -> None:
    path = tmp_path / "spoilt.tif"
    path.write_bytes(b"II*\0" + bytes(50))
    with pytest.raises(InputProblem, match=r"spoilt\.tif: cannot be read as a raster"):
        read_raster(path)


def test_warping_takes_the_nearest_cell_and_leaves_the_rest_unknown() -> None:
    crs = WHERE["crs"]
    box = (-10_500.0, -10_500.0, 13_500.0, 10_500.0)
    assert np.allclose(box_in(crs, crs=crs, box=box), box, atol=1e-6)
    out = warped(VALUES, to_crs=crs, box=box, shape=(700, 800), **WHERE)
    assert np.array_equal(out[:, :700], VALUES, equal_nan=True) and np.isnan(out[:, 700:]).all()
    whole = warped(np.ones((700, 700), np.uint8), to_crs=crs, box=box, shape=(700, 800), **WHERE)
    assert whole[:, :700].all() and not whole[:, 700:].any()
