"""Files laid out as the data sets lay them out, and a server for them in a process of its own."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

SERVER = Path(__file__).with_name("loopback.py")
Serve = Callable[[], "Served"]


class Served:
    """A running server: its address by the way it behaves, and what it was asked."""

    def __init__(self, port: int, log: Path) -> None:
        self._port, self._log = port, log

    def way(self, name: str) -> str:
        return f"http://127.0.0.1:{self._port}/{name}"

    @property
    def asked(self) -> list[str]:
        return self._log.read_text(encoding="utf-8").splitlines() if self._log.exists() else []


@contextmanager
def _running(folder: Path, log: Path) -> Iterator[Served]:
    server = subprocess.Popen(
        [sys.executable, str(SERVER), str(folder), str(log)], stdout=subprocess.PIPE, text=True
    )
    try:
        assert server.stdout is not None
        yield Served(int(server.stdout.readline()), log)
    finally:
        if server.stdout is not None:
            server.stdout.close()
        server.kill()
        server.wait()


@pytest.fixture
def serve(data_set: Path, tmp_path: Path) -> Iterator[Serve]:
    """Start servers; they end with the test."""
    with ExitStack() as stack:
        count = iter(range(100))
        yield lambda: stack.enter_context(_running(data_set, tmp_path / f"asked{next(count)}.log"))


def heights(rows: int, columns: int) -> np.ndarray:
    """A pattern every pixel of which tells where it is, within what deflate still packs well."""
    y, x = np.mgrid[0:rows, 0:columns]
    return (100.0 + (x // 16) % 128 + 128.0 * ((y // 16) % 4)).astype(np.float32)


@pytest.fixture(scope="session")
def data_set(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One cell of a surface model (41..42 N, 38..37 W) and of a land cover, as cloud-optimised files.

    Layout: Copernicus DEM product handbook and ESA WorldCover product manual, both from memory.
    """
    folder = tmp_path_factory.mktemp("data-set")
    name = "Copernicus_DSM_COG_10_N41_00_W038_00_DEM"
    (folder / name).mkdir()
    step = 1.0 / 3600.0
    with rasterio.open(
        folder / name / f"{name}.tif", "w", driver="COG", width=3600, height=3600, count=1, dtype="float32",
        crs="EPSG:4326", transform=from_origin(-38.0 - step / 2, 42.0 + step / 2, step, step),
        compress="deflate", blocksize=512,
    ) as data:  # fmt: skip
        data.write(heights(3600, 3600), 1)
    cover = folder / "v200" / "2021" / "map"
    cover.mkdir(parents=True)
    step = 1.0 / 12000.0
    with rasterio.open(
        cover / "ESA_WorldCover_10m_2021_v200_N39W039_Map.tif", "w", driver="GTiff", width=36000,
        height=36000, count=1, dtype="uint8", crs="EPSG:4326", nodata=0,
        transform=from_origin(-39.0, 42.0, step, step),
        compress="deflate", tiled=True, blockxsize=1024, blockysize=1024, SPARSE_OK=True,
    ) as data:  # fmt: skip
        window = rasterio.windows.Window(12000, 6144, 2048, 2048)
        data.write(np.full((1, 2048, 2048), 10, dtype=np.uint8), window=window)
    return folder
