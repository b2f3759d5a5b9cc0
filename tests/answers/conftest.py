"""A small net folder on a tile of gentle hills with sea in the west, made once; tests only read it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from reach.answers.open_net import OpenNet, open_net

NET = """
[net]
name = "Small net"

[[channels]]
name = "two metres"
frequency_mhz = 146.52

[[channels]]
name = "six metres"
frequency_mhz = 52.525

[[repeaters]]
call_sign = "QK0RA"
latitude = 41.37
longitude = -37.87
output_mhz = 146.94
offset_mhz = -0.6

[[repeaters]]
call_sign = "QK0RB"
latitude = 41.35
longitude = -37.85
output_mhz = 444.0
offset_mhz = 5
"""
MEMBERS = [
    "QK1A,base,41.35,-37.86",
    "QK1B,base,41.38,-37.88",
    "QK1H,portable,41.33,-37.84",
    "QK1N,internet,41.36,-37.85",
]


def write_net(folder: Path, *, members: list[str], settings: str = NET) -> Path:
    """net.toml, roster.csv and one tile, 41.25..41.5 N, 38.0..37.75 W, its western tenth sea."""
    (folder / "terrain").mkdir(parents=True)
    (folder / "net.toml").write_text(settings, encoding="utf-8")
    heading = "call_sign,category,latitude,longitude"
    (folder / "roster.csv").write_text("\n".join([heading, *members]) + "\n", encoding="utf-8")
    y, x = np.mgrid[0:300, 0:300] / 300.0
    ground = 60.0 + 40.0 * np.sin(9.0 * x) * np.cos(11.0 * y)
    ground[:, :30] = 0.0
    with rasterio.open(
        folder / "terrain" / "land.tif", "w", driver="GTiff", width=300, height=300, count=1,
        dtype="float32", crs="EPSG:4326", transform=from_origin(-38.0, 41.5, 0.25 / 300, 0.25 / 300),
    ) as tile:  # fmt: skip
        tile.write(ground.astype(np.float32), 1)
        tile.units = ("m",)
    return folder


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_net(tmp_path_factory.mktemp("small") / "net", members=MEMBERS)


@pytest.fixture(scope="session")
def opened(folder: Path) -> Iterator[OpenNet]:
    with open_net(folder) as net:
        yield net
