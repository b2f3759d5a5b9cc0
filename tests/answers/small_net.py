"""A small net folder on gently rolling land, made in a moment."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import rasterio
from rasterio.transform import from_origin

NET = """
[net]
name = "Small net"

[terrain]
folders = ["terrain"]

[schedule]
weekday = "tuesday"
start = "19:30"

[[channels]]
name = "two metres"
frequency_mhz = 146.52

[[repeaters]]
call_sign = "QK0R"
latitude = 41.37
longitude = -37.95
output_mhz = 146.94
input_mhz = 146.34
antenna_height_m = 20
power_w = 50
"""

# QK1F is far off and weak: willing to be net control, but hearing too little; QK1N has no radio path
ROSTER = """call sign,name,category,latitude,longitude,antenna height m,power W,control,relay,backup
QK1A,Ann,base,41.35,-37.95,12,50,yes,yes,40 Ah
QK1B,Bea,base,41.40,-37.90,12,50,yes,yes,
QK1F,Fay,base,41.27,-37.78,2,0.1,yes,no,
QK1H,Hal,portable,41.36,-37.93,2,5,no,no,8 h
QK1N,Nan,internet,41.36,-37.90,2,5,no,no,
"""


def made_in(folder: Path, *, net: str = NET, roster: str = ROSTER) -> Path:
    """The folder with net.toml, roster.csv and one elevation tile in it."""
    (folder / "net.toml").write_text(net, encoding="utf-8")
    (folder / "roster.csv").write_text(roster, encoding="utf-8")
    (folder / "terrain").mkdir()
    y, x = np.mgrid[0:300, 0:300] / 300.0
    land_m = (100.0 + 40.0 * np.sin(9.0 * x) * np.cos(11.0 * y)).astype(np.float32)
    with rasterio.open(
        folder / "terrain" / "land.tif", "w", driver="GTiff", width=300, height=300, count=1,
        dtype="float32", crs="EPSG:4326", transform=from_origin(-38.0, 41.5, 0.25 / 300, 0.25 / 300),
    ) as tile:  # fmt: skip
        tile.write(land_m, 1)
        tile.units = ("m",)
    return folder
