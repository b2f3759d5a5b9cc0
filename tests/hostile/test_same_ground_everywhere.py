"""What `check` vouches for the plans can use, and what they would stop at it tells beforehand."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from reach.answers.check import CheckAnswer, check
from reach.answers.open_net import open_terrain
from reach.errors import InputProblem, MissingTerrain, ReachError
from reach.inputs.club import read_net
from reach.inputs.lookup import find_channel
from reach.inputs.net_folder import read_net_folder
from reach.links.survey import survey_simplex

NET = "[[channels]]\nfrequency_mhz = 146.52\n"
ROWS = ("QK3ABC,41.80,-71.90,base", "QK3DEF,41.60,-71.60,base", "QK3GHI,41.30,-71.20,base")
SIDE = 480
STEP_DEG = 1.0 / 480.0


def tile(
    path: Path,
    *,
    heights: np.ndarray | None = None,
    west: float = -72.0,
    north: float = 42.0,
    unit: str = "m",
    **options: object,
) -> None:
    profile = {"driver": "GTiff", "width": SIDE, "height": SIDE, "count": 1, "dtype": "float32",
               "crs": "EPSG:4326", "transform": from_origin(west, north, STEP_DEG, STEP_DEG)}  # fmt: skip
    with rasterio.open(path, "w", **(profile | options)) as data:
        data.write((np.full((SIDE, SIDE), 100.0) if heights is None else heights).astype("float32"), 1)
        if unit:
            data.set_band_unit(1, unit)


def net_folder(folder: Path, rows: tuple[str, ...] = ROWS, net: str = NET) -> Path:
    (folder / "terrain").mkdir(parents=True)
    (folder / "net.toml").write_text(net, encoding="utf-8")
    (folder / "roster.csv").write_text(
        "call_sign,latitude,longitude,category\n" + "\n".join(rows) + "\n", encoding="utf-8"
    )
    return folder


def banded(value: float, *, first: int = 150, rows: int = 20) -> np.ndarray:
    heights = np.full((SIDE, SIDE), 100.0)
    heights[first : first + rows] = value
    return heights


def check_net(folder: Path) -> CheckAnswer:
    return check(read_net_folder(folder))


def plans(folder: Path) -> bool:
    """Whether the simplex net can be planned; what stops it has to be an error meant for the user."""
    try:
        net = read_net(folder)
        with open_terrain(net) as terrain:
            survey_simplex(net, terrain, find_channel(net, None))
    except ReachError:
        return False
    return True


TILES: dict[str, tuple[Callable[[Path], object], bool]] = {
    "whole": (lambda t: tile(t / "a.tif"), True),
    "none": (lambda t: None, False),
    "all NaN": (lambda t: tile(t / "a.tif", heights=np.full((SIDE, SIDE), np.nan)), False),
    "a band of nodata": (lambda t: tile(t / "a.tif", heights=banded(-32768), nodata=-32768), False),
    "a band of -9999 undeclared": (lambda t: tile(t / "a.tif", heights=banded(-9999)), False),
    "a band of minus infinity": (lambda t: tile(t / "a.tif", heights=banded(-np.inf)), False),
    "a band of plus infinity": (lambda t: tile(t / "a.tif", heights=banded(np.inf)), False),
    "a band of 100 km": (lambda t: tile(t / "a.tif", heights=banded(1e5)), False),
    "a void under a member": (lambda t: tile(t / "a.tif", heights=banded(np.nan, first=335, rows=3)), False),
    "a void off every path": (lambda t: tile(t / "a.tif", heights=banded(np.nan, first=400, rows=79)), True),
    "half of the land": (lambda t: tile(t / "a.tif", west=-72.5), False),
    "no unit": (lambda t: tile(t / "a.tif", unit=""), False),
    "cut short": (
        lambda t: (tile(t / "a.tif"), (t / "a.tif").write_bytes((t / "a.tif").read_bytes()[:-100])), False
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", TILES)
def test_check_fails_where_the_plan_does(name: str, tmp_path: Path) -> None:
    make, good = TILES[name]
    folder = net_folder(tmp_path / "net")
    make(folder / "terrain")
    found = check_net(folder)
    is_ready = not found.faults and not found.missing_cells
    assert is_ready == plans(folder) == good
    assert ("is ready" in found.headline) == good


def test_the_cause_stands_where_the_missing_cells_would(tmp_path: Path) -> None:
    folder = net_folder(tmp_path / "net")
    tile(folder / "terrain" / "a.tif", unit="")
    found = check_net(folder)
    assert "do not say whether they are in metres or feet: a.tif" in found.elevation_fault


@pytest.mark.parametrize(
    ("row", "cause"),
    [
        ("QK3XYZ,-71.60,41.70,base", "latitude and longitude look swapped"),
        ("QK3XYZ,41.70,71.60,base", "the sign of the longitude looks wrong"),
        ("QK3XYZ,-41.70,-71.60,base", "the sign of the latitude looks wrong"),
        ("QK3XYZ,71.60,41.70,base", "latitude and longitude look swapped, with a sign lost"),
    ],
)
def test_a_slip_of_the_pen_is_noticed_by_every_command(row: str, cause: str, tmp_path: Path) -> None:
    folder = net_folder(tmp_path / "net", (ROWS[0], row))  # two: nobody is in the middle of the others
    tile(folder / "terrain" / "a.tif")
    with pytest.raises(
        InputProblem, match=rf"roster\.csv: QK3XYZ stands at .*, where there is no tile; {cause}"
    ):
        open_terrain(read_net(folder))
    assert any(cause in fault for fault in check_net(folder).faults)


def test_a_repeater_swapped_is_noticed_too(tmp_path: Path) -> None:
    repeater = (
        '[[repeaters]]\ncall_sign = "QK3RA/R"\nlatitude = -71.6\nlongitude = 41.7\noutput_mhz = 146.94\n'
        "offset_mhz = -0.6\n"
    )
    folder = net_folder(tmp_path / "net", net=NET + repeater)
    tile(folder / "terrain" / "a.tif")
    with pytest.raises(InputProblem, match=r"net\.toml: QK3RA/R stands at .*swapped"):
        open_terrain(read_net(folder))


def test_a_place_just_off_the_tiles_lacks_a_tile(tmp_path: Path) -> None:
    folder = net_folder(tmp_path / "net", ("QK3ABC,0.5,0.4,base", "QK3DEF,0.5,-0.3,base"))
    tile(folder / "terrain" / "a.tif", west=0.0, north=1.0)
    with open_terrain(read_net(folder)) as terrain, pytest.raises(MissingTerrain):
        survey_simplex(read_net(folder), terrain, find_channel(read_net(folder), None))
    assert check_net(folder).missing_cells == ("N00W001",)


@pytest.mark.parametrize("apart_m", [0.0, 40.0, 500.0])
def test_two_tiles_of_one_place_that_disagree_are_told(apart_m: float, tmp_path: Path) -> None:
    folder = net_folder(tmp_path / "net")
    tile(folder / "terrain" / "a.tif")
    tile(folder / "terrain" / "b.tif", heights=np.full((SIDE, SIDE), 100.0 + apart_m))
    with open_terrain(read_net(folder)) as terrain:
        told = [text for text in terrain.warnings if "show the same ground" in text]
    assert told == (
        ["a.tif and b.tif show the same ground 500 m apart; a.tif is used, the first by name. "
         "One of them is wrong, or in another unit: take it away."] if apart_m == 500.0 else []
    )  # fmt: skip


def test_a_club_across_the_antimeridian_is_together(tmp_path: Path) -> None:
    rows = ("QK3ABC,-16.80,179.95,base", "QK3DEF,-16.75,-179.95,base", "QK3GHI,-16.70,179.90,base",
            "QK3JKL,-16.72,-179.91,base")  # fmt: skip
    folder = net_folder(tmp_path / "net", rows)
    tile(folder / "terrain" / "e.tif", west=179.0, north=-16.0)
    tile(folder / "terrain" / "w.tif", west=-180.0, north=-16.0)
    found = check_net(folder)
    assert not [text for text in found.warnings if " km from the middle" in text]
    assert "is ready" in found.headline and plans(folder)


def test_a_tile_over_the_antimeridian_in_one_piece(tmp_path: Path) -> None:
    rows = ("QK3ABC,-16.50,179.95,base", "QK3DEF,-16.55,-179.95,base")
    folder = net_folder(tmp_path / "net", rows)
    tile(folder / "terrain" / "a.tif", crs="EPSG:32760", transform=from_origin(750_000, 8_210_000, 300, 300))
    assert "is ready" in check_net(folder).headline and plans(folder)


@pytest.mark.parametrize(("crs", "latitude"), [("EPSG:3413", 89.98), ("EPSG:3031", -89.98)])
def test_a_polar_tile_is_found(crs: str, latitude: float, tmp_path: Path) -> None:
    rows = (f"QK3ABC,{latitude},10,base", f"QK3DEF,{latitude},-170,base", f"QK3GHI,{latitude},100,base")
    folder = net_folder(tmp_path / "net", rows)
    tile(folder / "terrain" / "a.tif", crs=crs, transform=from_origin(-24_000, 24_000, 100, 100))
    assert "is ready" in check_net(folder).headline and plans(folder)
