"""An invented piece of country in the open Atlantic and a small invented club, for the link tests."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from reach.stations import Antenna, Category, Channel, FeedLine, Net, Position, Repeater, Station
from reach.terrain.tiles import Terrain

NORTH, WEST, SIDE_DEG, PIXELS = 41.5, -38.5, 0.5, 600  # 3 arc-second pixels


@pytest.fixture(scope="session")
def country(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One tile: gentle hills, and a ridge 400 m high along 38.2 W."""
    folder = tmp_path_factory.mktemp("country")
    y, x = np.mgrid[0:PIXELS, 0:PIXELS] / PIXELS
    hills = 60.0 + 30.0 * np.sin(9.0 * x) * np.cos(7.0 * y) + 15.0 * np.sin(31.0 * x + 17.0 * y)
    ridge = 400.0 * np.exp(-(((x - 0.6) / 0.02) ** 2))
    with rasterio.open(
        folder / "country.tif",
        "w",
        driver="GTiff",
        width=PIXELS,
        height=PIXELS,
        count=1,
        dtype="float32",
        crs="EPSG:4326",
        transform=from_origin(WEST, NORTH, SIDE_DEG / PIXELS, SIDE_DEG / PIXELS),
    ) as tile:
        tile.write((hills + ridge).astype(np.float32), 1)
        tile.units = ("m",)
    return folder


@pytest.fixture
def terrain(country: Path) -> Iterator[Terrain]:
    with Terrain.open([country], elevation_unit="m") as opened:
        yield opened


def station(
    call_sign: str,
    latitude_deg: float,
    longitude_deg: float,
    *,
    category: Category = Category.BASE,
    power_dbm: float = 47.0,
    gain_dbi: float = 5.0,
    height_m: float = 10.0,
    **others: object,
) -> Station:
    """A member with plain equipment; `others` goes to Station as it is."""
    return Station(
        call_sign=call_sign,
        name="",
        position=Position(latitude_deg, longitude_deg),
        category=category,
        antenna=Antenna(height_m=height_m, gain_dbi=gain_dbi),
        transmit_power_dbm=power_dbm,
        feed_line=FeedLine(fixed_loss_db=1.0),
        **others,  # type: ignore[arg-type]
    )


@pytest.fixture
def channel() -> Channel:
    return Channel("simplex", 146.55)


@pytest.fixture
def club(channel: Channel) -> Net:
    """West of the ridge two bases, a handheld and a mobile; east of it a base; one member by internet."""
    return Net(
        name="Test net",
        channels=(channel,),
        repeaters=(
            Repeater(
                call_sign="QK0R",
                name="Ridge",
                position=Position(41.25, -38.2),
                output_mhz=146.94,
                input_mhz=146.34,
                antenna=Antenna(height_m=20.0, gain_dbi=8.0),
                transmit_power_dbm=47.0,
            ),
        ),
        stations=(
            station("QK1A", 41.25, -38.45),
            station("QK1B", 41.30, -38.40),
            station(
                "QK1H", 41.22, -38.38, category=Category.PORTABLE, power_dbm=37.0, gain_dbi=-5.0, height_m=1.5
            ),
            station("QK1M", 41.35, -38.33, category=Category.MOBILE, gain_dbi=2.0, height_m=2.0),
            station("QK1E", 41.24, -38.08),
            station("QK1N", 41.26, -38.30, category=Category.INTERNET),
        ),
        model="delta_bullington",
    )
