"""`reach tiles` from an empty folder to a plan and a map with its credit, against a server of our own."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
import rasterio

from tests.terrain.fetching.conftest import Serve, data_set, serve

__all__ = ["data_set", "serve"]
Run = Callable[..., subprocess.CompletedProcess[str]]

NET = """
[net]
name = "New net"
[terrain]
folders = ["terrain"]
[[channels]]
frequency_mhz = 146.52
"""
ROSTER = """call_sign,category,latitude,longitude,control,relay
QK1A,base,41.3512,-37.5711,yes,yes
QK1B,base,41.3911,-37.5312,yes,yes
"""


@pytest.fixture
def net(tmp_path: Path) -> Path:
    folder = tmp_path / "net"
    folder.mkdir()
    (folder / "net.toml").write_text(NET, encoding="utf-8")
    (folder / "roster.csv").write_text(ROSTER, encoding="utf-8")
    return folder


def test_from_nothing_to_a_map_with_its_credit(reach_here: Run, serve: Serve, net: Path) -> None:
    server = serve()
    asked = ["tiles", net, "--source", "world-surface", "--around", "5 km", "--server", server.way("plain")]
    first = reach_here(*asked)
    assert first.returncode == 2
    assert "add --yes" in first.stderr
    assert not server.asked, "nobody was asked before the user agreed"
    text = " ".join(first.stdout.split())
    for said in (
        "1 file of Copernicus DEM",
        "127.0.0.1",
        "MB",
        "licence",
        "trees and roofs included",
        "from memory",
    ):
        assert said in text
    assert not (net / "terrain").exists()

    done = reach_here(*asked, "--yes")
    assert done.returncode == 0, done.stderr
    assert "1 fetched" in done.stdout
    kept = net / "terrain" / "Copernicus_DSM_COG_10_N41_00_W038_00_DEM.tif"
    assert kept.stat().st_size < 2_000_000
    assert "Copernicus" in (net / "terrain" / "credits.txt").read_text(encoding="utf-8")

    count = len(server.asked)
    again = reach_here(*asked, "--yes")
    assert again.returncode == 0
    assert "Nothing to fetch" in again.stdout
    assert len(server.asked) == count

    ready = reach_here("check", net)
    assert ready.returncode == 0, ready.stdout + ready.stderr
    drawn = reach_here("simplex", net, "--map", net / "map.html", "--share")
    assert drawn.returncode == 0, drawn.stderr
    assert "Copernicus WorldDEM-30" in (net / "map.html").read_text(encoding="utf-8")


def test_what_the_data_set_lacks_is_no_sea_until_said(reach_here: Run, serve: Serve, net: Path) -> None:
    """A member a degree west, where the server has nothing."""
    with open(net / "roster.csv", "a", encoding="utf-8") as roster:
        roster.write("QK1C,base,41.35,-38.02,,\n")
    asked = ["tiles", net, "--source", "world-surface", "--around", "3 km", "--server", serve().way("plain")]
    found = reach_here(*asked, "--yes")
    assert found.returncode == 0, found.stderr
    assert "Not in the data set" in found.stdout
    assert "W039" in found.stdout
    assert reach_here("check", net).returncode == 2
    sea = reach_here(*asked, "--yes", "--sea", "N41W039")
    assert sea.returncode == 0, sea.stderr
    assert reach_here("check", net).returncode == 0


def test_a_fault_on_the_way_keeps_what_is_done(reach_here: Run, serve: Serve, net: Path) -> None:
    told = reach_here(
        "tiles", net, "--source", "world-surface", "--server", serve().way("elsewhere"), "--yes"
    )
    assert told.returncode == 2
    assert "sends on to tiles.example.org" in told.stderr
    assert "Traceback" not in told.stderr
    assert not list((net / "terrain").glob("*.tif"))


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--source", "world-surfaces"], "did you mean world-surface"),
        (["--source", "world-cover", "--server", "http://tiles.example.org"], "write https://"),
        (["--source", "usa-ground", "--sea", "here"], "is no cell"),
        (["--source", "usa-ground", "--around", "wide"], "wide"),
    ],
)
def test_what_is_wrong_is_said_in_a_line(reach_here: Run, net: Path, options: list[str], said: str) -> None:
    told = reach_here("tiles", net, *options)
    assert told.returncode == 2
    assert said in told.stderr


def test_without_a_source_they_are_listed(reach_here: Run, net: Path) -> None:
    told = reach_here("tiles", net)
    assert told.returncode == 0
    for name in ("world-surface", "usa-ground", "world-cover", "from memory and were not checked"):
        assert name in " ".join(told.stdout.split())


def test_land_cover_is_kept_apart_and_credited_too(reach_here: Run, serve: Serve, net: Path) -> None:
    told = reach_here(
        "tiles", net, "--source", "world-cover", "--around", "2 km", "--server", serve().way("plain"), "--yes"
    )
    assert told.returncode == 0, told.stderr
    assert 'land_cover = "land-cover/ESA_WorldCover_10m_2021_v200_N39W039_Map.tif"' in told.stdout
    kept = net / "land-cover" / "ESA_WorldCover_10m_2021_v200_N39W039_Map.tif"
    with rasterio.open(kept) as data:
        assert data.dtypes[0] == "uint8" and data.nodata == 0 and data.width < 2000
    for folder in ("land-cover", "terrain"):
        assert "ESA WorldCover" in (net / folder / "credits.txt").read_text(encoding="utf-8")
