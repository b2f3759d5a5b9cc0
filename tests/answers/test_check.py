"""A net folder looked through: ready, lacking ground, or at fault."""

from __future__ import annotations

from pathlib import Path

import pytest

from reach.answers.check import check
from reach.inputs.net_folder import read_net_folder
from tests.answers.conftest import MEMBERS, NET, write_net


def test_a_whole_net_is_ready(folder: Path) -> None:
    found = check(read_net_folder(folder))
    assert found.ready and found.faults == () and found.missing_cells == ()
    assert found.headline.startswith("Small net is ready to plan: 4 members, 2 repeaters")
    assert found.tiles.count == 1 and found.tiles.finest_m == found.tiles.coarsest_m
    assert set(found.ground_m) == {"QK1A", "QK1B", "QK1H", "QK0RA", "QK0RB"}  # nobody without a radio
    assert all(height is not None and 20.0 <= height <= 100.0 for height in found.ground_m.values())
    assert [row[0] for row in found.rows.rows] == ["QK1A", "QK1B", "QK1H", "QK1N", "QK0RA", "QK0RB"]
    assert found.figures.assumed == found.taken and found.figures.net is found.net


def test_ground_that_is_missing_is_named(tmp_path: Path) -> None:
    far = [*MEMBERS, "QK1F,base,42.01,-37.85"]
    found = check(read_net_folder(write_net(tmp_path / "net", members=far)))
    assert not found.ready and found.faults == ()
    assert "N42W038" in found.missing_cells and "elevation is missing in N41W038" in found.headline
    assert found.ground_m["QK1F"] is None
    assert any(text.startswith("QK1F stands where no tile has elevation") for text in found.warnings)


def test_faults_of_model_and_tiles_come_together(tmp_path: Path) -> None:
    settings = NET.replace("[net]", '[net]\nmodel = "p1821"')
    folder = write_net(tmp_path / "net", members=MEMBERS, settings=settings)
    (folder / "terrain" / "land.tif").unlink()
    found = check(read_net_folder(folder))
    assert len(found.faults) == 2 and "did you mean p1812" in found.faults[0]
    assert "no elevation raster was found" in found.faults[1]
    assert found.missing_cells == found.needed_cells == ("N41W038",)
    assert set(found.ground_m.values()) == {None}


@pytest.mark.parametrize(("count", "words"), [(3, "QK1A, QK1B, QK1C"), (15, "all 15 on the air")])
def test_defaults_are_told_whole_and_in_short(tmp_path: Path, count: int, words: str) -> None:
    members = [f"QK1{letter},base,41.35,-37.8{i % 10}" for i, letter in enumerate("ABCDEFGHIJKLMNO"[:count])]
    settings = NET.partition("[[repeaters]]")[0]
    found = check(read_net_folder(write_net(tmp_path / "net", members=members, settings=settings)))
    short = [line for line in found.in_short if line.startswith("antenna height")]
    (whole,) = (line for line in found.assumed if line.startswith("antenna height"))
    assert short == [f"{whole.partition(':')[0]}: {words}"]
    assert whole.endswith(", ".join(member.partition(",")[0] for member in members))
