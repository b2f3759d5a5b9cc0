"""The way of a new club: from an empty folder to a map to hand round, command by command.

`REACH_WALK=1 python -m pytest -s tests/commands/test_walk.py` takes each step in a process of its own, as
typed, and prints how long it took.
"""

from __future__ import annotations

import csv
import os
import re
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from tests.terrain.fetching.conftest import Serve, data_set, serve

__all__ = ["data_set", "serve"]
Run = Callable[..., subprocess.CompletedProcess[str]]

NET = """
[net]
name = "Harbour evening net"
[terrain]
folders = ["terrain"]
[[channels]]
name = "two metres"
frequency_mhz = 146.52
[[channels]]
name = "seventy centimetres"
frequency_mhz = 446.0
[[channels]]
name = "ten metres"
frequency_mhz = 29.6
[[repeaters]]
call_sign = "QK5RA"
latitude = 41.512345
longitude = -37.487654
output_mhz = 146.94
offset_mhz = -0.6
antenna_height_m = 30
[[repeaters]]
call_sign = "QK5RB"
latitude = 41.431234
longitude = -37.623456
output_mhz = 444.5
offset_mhz = 5.0
antenna_height_m = 20
[schedule]
weekday = "tuesday"
start = "19:30"
"""


def members() -> list[dict[str, str]]:
    """22 members within the cell the server has, places to six decimals."""
    rng = np.random.default_rng(5)
    kinds = ["base"] * 14 + ["mobile"] * 4 + ["portable"] * 4
    return [
        {
            "call_sign": f"QK5{'ABCDEFGHIJKLMNOPQRSTUV'[number]}WX",
            "name": f"Member{number:02d}",
            "category": kind,
            "latitude": f"{rng.uniform(41.36, 41.64):.6f}",
            "longitude": f"{rng.uniform(-37.74, -37.26):.6f}",
            "control": "yes" if number < 4 else "",
            "relay": "yes" if number < 9 else "",
        }
        for number, kind in enumerate(kinds)
    ]


def write_club(folder: Path) -> None:
    """What the user types: the members and the channels in place of the invented ones, no tiles."""
    for tile in (folder / "terrain").iterdir():
        tile.unlink()
    (folder / "net.toml").write_text(NET, encoding="utf-8")
    with open(folder / "roster.csv", "w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, members()[0].keys())
        writer.writeheader()
        writer.writerows(members())


def test_from_an_empty_folder_to_a_map_to_hand_round(
    reach: Run, reach_here: Run, serve: Serve, tmp_path: Path
) -> None:
    timed = bool(os.environ.get("REACH_WALK"))
    took: list[tuple[str, float]] = []

    def step(*words: str | Path, expected: int = 0) -> str:
        start = time.perf_counter()
        told = (reach if timed else reach_here)(*words, cwd=tmp_path)
        took.append((" ".join(map(str, words)), time.perf_counter() - start))
        assert told.returncode == expected, told.stdout + told.stderr
        return told.stdout + told.stderr

    server = serve()
    folder = tmp_path / "our-net"
    step("new", "our-net")
    write_club(folder)
    lacking = step("check", "our-net", expected=2)
    assert "N41W038" in lacking and "reach tiles" in lacking
    assert "world-surface" in step("tiles", "our-net")
    asked = ("tiles", "our-net", "--source", "world-surface", "--server", server.way("plain"))
    assert "licence" in step(*asked, expected=2)  # what it would be, before anyone is asked
    assert not server.asked
    assert "1 fetched" in step(*asked, "--yes")
    assert "is ready to plan: 22 members, 2 repeaters" in step("check", "our-net")
    said = step("simplex", "our-net", "--map", "net.html", "--share")
    assert re.search(r"QK5\wWX as net control", said)
    step("sheet", "our-net", "--pdf", "sheet.pdf", "--share")

    page = (tmp_path / "net.html").read_text(encoding="utf-8")
    assert "its square of 2 km" in page and "Copernicus WorldDEM-30" in page
    for member in members():
        assert member["call_sign"] in page and member["name"] not in page
        assert member["latitude"][:-1] not in page and member["longitude"][:-1] not in page
    assert (tmp_path / "sheet.pdf").stat().st_size > 10_000
    if timed:
        for words, seconds in took:
            print(f"{seconds:6.1f} s  reach {words.replace(server.way('plain'), 'ADDRESS')}")
        print(f"{sum(seconds for _, seconds in took):6.1f} s  in all, {len(took)} commands")
