"""The starter net: a folder that runs as it is, whole or not at all."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from reach.demo.starter import Starter, write_starter
from reach.errors import OutputProblem
from reach.inputs.club import read_net
from reach.terrain.sampling import path_gaps
from reach.terrain.tiles import Terrain


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("clubs") / "evening net"
    write_starter(folder)
    return folder


def test_it_reads_without_a_fault_and_without_a_warning_but_the_locators(starter: Path) -> None:
    net = read_net(starter)
    assert net.warnings == ()
    assert len(net.stations) == 9 and len(net.repeaters) == 1
    assert {station.category.value for station in net.stations} == {"base", "mobile", "portable", "internet"}
    assert all(owner.call_sign.startswith("Q") for owner in (*net.stations, *net.repeaters))


def test_its_tiles_cover_every_path_and_no_station_is_at_sea(starter: Path) -> None:
    net = read_net(starter)
    places = [s.position for s in net.stations if s.has_radio_path] + [r.position for r in net.repeaters]
    with Terrain.open(net.terrain_folders) as terrain:
        assert list(path_gaps(terrain, list(combinations(places, 2)))) == []
        ground = terrain.sample([p.latitude_deg for p in places], [p.longitude_deg for p in places])
    assert np.all(ground > 0.0)
    assert ground[-1] == ground.max()  # the repeater stands highest


def test_an_empty_folder_is_filled_and_stays_the_same_folder(tmp_path: Path, starter: Path) -> None:
    before = tmp_path.stat().st_ino
    tiles = len(list((starter / "terrain").iterdir()))
    assert write_starter(tmp_path) == Starter(members=9, tiles=tiles)
    assert tmp_path.stat().st_ino == before
    written = {
        path.relative_to(tmp_path): path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()
    }
    assert written == {
        path.relative_to(starter): path.read_bytes() for path in starter.rglob("*") if path.is_file()
    }


def test_only_the_tiles_needed_are_kept(starter: Path) -> None:
    assert 1 <= len(list((starter / "terrain").iterdir())) <= 4
    assert sum(path.stat().st_size for path in starter.rglob("*") if path.is_file()) < 2_000_000


def test_nothing_else_is_left_beside_it(starter: Path) -> None:
    assert [path.name for path in starter.parent.iterdir()] == [starter.name]
    assert sorted(path.name for path in starter.iterdir()) == ["net.toml", "roster.csv", "terrain"]


@pytest.mark.parametrize(
    ("name", "words"),
    [("file", "is a file; choose a new folder"), ("no/such/place", "does not exist; make it first")],
)
def test_other_places_that_cannot_be(tmp_path: Path, name: str, words: str) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(OutputProblem, match=words):
        write_starter(tmp_path / name)


@pytest.mark.parametrize("stop", [KeyboardInterrupt(), OSError(28, "No space left on device")])
def test_stopped_half_way_nothing_is_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stop: BaseException
) -> None:
    def fail(folder: Path, progress: object = None) -> None:
        (folder / "half.tif").write_bytes(b"x")
        raise stop

    monkeypatch.setattr("reach.demo.starter.make_relief", fail)
    target = tmp_path / "net"
    target.mkdir()  # empty: may be used, and stays as it was
    expected = OutputProblem if isinstance(stop, OSError) else KeyboardInterrupt
    with pytest.raises(expected):
        write_starter(target)
    assert [path.name for path in tmp_path.iterdir()] == ["net"]
    assert list(target.iterdir()) == []
