"""The invented club with land cover: ESA WorldCover codes over its country, from net.toml to the answers."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

WEST, NORTH, PER_DEG = -38.5, 41.75, 1200  # the demo's country, 3 arc-second pixels
STRIPE = (-38.158, -38.136)  # forest from top to bottom of the map, 1.8 km wide, between the members
TREES, GRASS, WATER = 10, 30, 80


@pytest.fixture(scope="module")
def wooded(club: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the club's folder with a land-cover raster named in net.toml."""
    folder = tmp_path_factory.mktemp("wooded") / "club"
    shutil.copytree(club, folder)
    codes = np.full((int(0.75 * PER_DEG), PER_DEG), GRASS, dtype=np.uint8)
    longitude = WEST + (np.arange(PER_DEG) + 0.5) / PER_DEG
    codes[:, (longitude > STRIPE[0]) & (longitude < STRIPE[1])] = TREES
    codes[:, longitude > -37.6] = WATER
    with rasterio.open(
        folder / "cover.tif", "w", driver="GTiff", height=codes.shape[0], width=codes.shape[1], count=1,
        dtype="uint8", crs="EPSG:4326", nodata=0,
        transform=from_origin(WEST, NORTH, 1 / PER_DEG, 1 / PER_DEG),
    ) as tile:  # fmt: skip
        tile.write(codes, 1)
    settings = (folder / "net.toml").read_text(encoding="utf-8")
    assert settings.count("[terrain]\n") == 1
    named = settings.replace("[terrain]\n", '[terrain]\nland_cover = "cover.tif"\n')
    (folder / "net.toml").write_text(named, encoding="utf-8")
    return folder


def with_heights(wooded: Path, tmp_path: Path, table: str) -> Path:
    folder = tmp_path / "heights"
    shutil.copytree(wooded, folder)
    settings = (folder / "net.toml").read_text(encoding="utf-8")
    (folder / "net.toml").write_text(
        settings.replace("[[channels]]", f"[terrain.clutter_heights_m]\n{table}\n\n[[channels]]", 1),
        encoding="utf-8",
    )
    return folder


def answer(reach_here: Any, folder: Path, *options: str) -> tuple[dict[tuple[str, str], float], list[str]]:
    """Path loss of every direction, dB, and the warnings."""
    done = reach_here("simplex", folder, "--json", "-", *options)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    losses = {
        (row["station"], row["hears"]): float(row["path_loss_db"])
        for row in found["answers"]["links"]
        if row["path_loss_db"] is not None
    }
    return losses, found["warnings"]


def longitudes(folder: Path) -> dict[str, float]:
    rows = [line.split(",") for line in (folder / "roster.csv").read_text(encoding="utf-8").splitlines()]
    at = rows[0].index("longitude")
    return {row[0]: float(row[at]) for row in rows[1:] if row[at]}


def test_forest_on_the_path_costs_and_nothing_else_does(
    reach_here: Any, club: Path, wooded: Path, tmp_path: Path
) -> None:
    """Default, taller by the user's table, and felled by it: against the felled country, grass all over."""
    trees, warnings = answer(reach_here, wooded)
    taller, _ = answer(reach_here, with_heights(wooded, tmp_path / "a", f"{TREES} = 30"))
    felled, _ = answer(reach_here, with_heights(wooded, tmp_path / "b", f"{TREES} = 0"))
    bare = felled
    at = longitudes(club)
    margin_deg = 0.002  # 170 m
    west = {call for call, lon in at.items() if lon < STRIPE[0] - margin_deg}
    east = {call for call, lon in at.items() if lon > STRIPE[1] + margin_deg}
    across = [pair for pair in bare if len({pair[0], pair[1]} & west) == 1 == len({pair[0], pair[1]} & east)]
    beside = [pair for pair in bare if set(pair) <= west or set(pair) <= east]
    assert len(across) >= 40
    assert len(beside) >= 40
    assert [trees[pair] for pair in beside] == pytest.approx([bare[pair] for pair in beside], abs=1e-9)
    cost_db = np.array([trees[pair] - bare[pair] for pair in across])
    assert cost_db.min() >= -1e-9
    assert (cost_db > 1.0).sum() >= 15  # behind a ridge the forest in the valley costs nothing
    assert cost_db.max() < 20.0  # a belt of trees far from both ends is one more edge, no wall
    more_db = np.array([taller[pair] - trees[pair] for pair in across])
    assert more_db.min() >= -1e-9
    assert more_db.max() > 3.0
    assert not any(
        "antenna lower than the trees" in text for text in warnings
    )  # reckoned with, not warned of


def test_ten_metres_sees_the_cover_too(reach_here: Any, club: Path, wooded: Path) -> None:
    houses, _ = answer(reach_here, club, "--channel", "ten metres")
    grass_and_trees, warnings = answer(reach_here, wooded, "--channel", "ten metres")
    assert grass_and_trees != houses
    assert any("losses are extrapolated" in text for text in warnings)


def test_surroundings_are_lines_of_the_budget(reach_here: Any, wooded: Path) -> None:
    """A member among trees, and one who says what stands round the antenna: each on its own line."""
    done = reach_here("path", wooded, "QK3FIR", "QK3ELM")
    assert done.returncode == 0, done.stderr
    lines = [line.split() for line in done.stdout.splitlines()]
    named = [line for line in lines if line[:4] == ["transmitter", "below", "trees", "or"]]
    assert not any("woodland" in line for line in lines)  # the path holds it already
    assert "itm leaves the land cover out." in " ".join(done.stdout.split())
    assert len(named) == 1  # a wood of 15 m
    done = reach_here("path", wooded, "QK3HOL", "QK3WLW")
    assert any(
        line[:3] == ["around", "the", "receiver:"] and "−7.0" in line
        for line in map(str.split, done.stdout.splitlines())
    )
