"""A net folder from a stranger: pipes, devices, absurd sizes, odd numbers: one clear line each, at once."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from reach.errors import InputProblem
from reach.inputs.club import read_net
from reach.inputs.polygons import read_polygons
from reach.inputs.text_files import read_text_file

NET = "[[channels]]\nfrequency_mhz = 146.52\n"
ROSTER = "call_sign,latitude,longitude,category\nQK3ABC,41.2,-38.1,base\n"
REPEATER = (
    '[[repeaters]]\ncall_sign = "QK3RA/R"\nlatitude = 41.2\nlongitude = -38.1\noutput_mhz = 146.94\n'
    "offset_mhz = -0.6\n"
)
LONGEST_S = 2.0  # of computing; a busy machine may take longer by the clock


def net_toml(text: str) -> Callable[[Path], None]:
    return lambda folder: (folder / "net.toml").write_text(text, encoding="utf-8") and None


def roster(text: str) -> Callable[[Path], None]:
    return lambda folder: (folder / "roster.csv").write_text(text, encoding="utf-8") and None


def pipe(name: str) -> Callable[[Path], None]:
    def make(folder: Path) -> None:
        (folder / name).unlink()
        os.mkfifo(folder / name)

    return make


def link(name: str, target: str) -> Callable[[Path], None]:
    def make(folder: Path) -> None:
        (folder / name).unlink()
        (folder / name).symlink_to(target)

    return make


def sparse(name: str) -> Callable[[Path], None]:
    def make(folder: Path) -> None:
        with open(folder / name, "wb") as file:
            file.truncate(50_000_000_000)

    return make


def member(**cells: str) -> Callable[[Path], None]:
    base = {"call_sign": "QK3ABC", "latitude": "41.2", "longitude": "-38.1", "category": "base"} | cells
    return roster(",".join(base) + "\n" + ",".join(base.values()) + "\n")


REFUSED: dict[str, tuple[Callable[[Path], None], str]] = {
    # what is no regular file
    "net.toml is a pipe": (pipe("net.toml"), "net.toml: is a pipe or a device"),
    "roster.csv is a pipe": (pipe("roster.csv"), "roster.csv: is a pipe or a device"),
    "roster.csv is endless": (link("roster.csv", "/dev/zero"), "roster.csv: is a pipe or a device"),
    "roster.csv is the terminal": (link("roster.csv", "/dev/stdin"), "roster.csv: "),
    "roster.csv leads to itself": (link("roster.csv", "roster.csv"), "roster.csv: cannot be read"),
    "roster.csv is memory": (link("roster.csv", "/proc/self/mem"), "roster.csv: "),
    "roster.csv has 50 GB": (sparse("roster.csv"), "at most 20 MB are read"),
    "net.toml has 50 GB": (sparse("net.toml"), "at most 1 MB are read"),
    # absurd sizes
    "200,000 headings": (roster(",".join(f"h{i}" for i in range(200_000)) + "\n"), "200000 headings"),
    "200,000 keys": (net_toml("".join(f"k{i}=1\n" for i in range(100_000))), "keys; at most"),
    "50,000 dotted levels": (net_toml("a." * 50_000 + "a = 1\n"), "more than 50 levels deep"),
    "50,000 dotted levels of a table": (net_toml("[" + "a." * 50_000 + "a]\n"), "more than 50 levels deep"),
    "50,000 quoted levels": (net_toml('"a".' * 50_000 + "a = 1\n"), "more than 50 levels deep"),
    "50,000 lists in lists": (net_toml("a = " + "[" * 50_000), "nested too deeply"),
    "100 tables in tables": (net_toml("a = " + "{a = " * 100 + "1" + "}" * 100), "50 levels deep"),
    "300,000 candidates": (
        net_toml(NET + "[planning]\ncontrol_candidates = [" + '"A",' * 240_000 + "]\n"),
        "240000 entries; at most",
    ),
    "20,000 channels": (net_toml(NET * 20_000), "20000 entries; at most"),
    "100,000 members": (roster(ROSTER + "QK3ABC,41.2,-38.1,base\n" * 100_000), "more faults of this kind"),
    "100,000 faulty members": (roster(ROSTER + "x,y,z,w\n" * 4_900), "more faults of this kind"),
    "a cell of a million characters": (member(notes="x" * 1_000_000), "longer than 131072"),
    # odd numbers
    "latitude 10^400": (member(latitude="1" + "0" * 400), "column latitude"),
    "latitude of 5,000 digits": (member(latitude="4" * 5000), "column latitude"),
    "height 1e400": (member(antenna_height_m="1e400"), "too large"),
    "height nan": (member(antenna_height_m="nan"), "row 2, column antenna_height_m"),
    "height 0": (member(antenna_height_m="0"), "row 2, column antenna_height_m"),
    "height 0 ft": (member(antenna_height="0 ft"), "row 2, column antenna_height"),
    "a repeater's height 0": (net_toml(NET + REPEATER + "antenna_height_m = 0\n"), "row 9, repeaters[1]."),
    "power of 10^400": (member(power_w="1" + "0" * 400), "column power_w"),
    "frequency of 5,000 digits": (net_toml(f"[[channels]]\nfrequency_mhz = {'1' * 5000}\n"), "be read"),
    "frequency 10^400": (net_toml(f"[[channels]]\nfrequency_mhz = 1{'0' * 400}\n"), "too large"),
    "frequency inf": (net_toml("[[channels]]\nfrequency_mhz = inf\n"), "frequency_mhz"),
    "region 10^400": (net_toml(f"[net]\nregion = 1{'0' * 400}\n{NET}"), "net.region"),
    "a class of 5,000 digits": (
        net_toml(f"{NET}[terrain.clutter_heights_m]\n{'1' * 5000} = 0\n"), ""
    ),
    "a year of nine digits": (net_toml(f"{NET}[schedule]\nfirst_date = 999999999-01-01\n"), ""),
    # junk for call signs
    **{
        f"call sign {text}": (member(call_sign=text), "row 2, column call_sign: ")
        for text in ("=1+1", "../../ETC", "<B>", "A" * 5000, "QK3ABC\x1b[31m", "QK3ABC\u202e", "@SUM", "-1")
    },
    "a repeater called <B>": (net_toml(NET + REPEATER.replace("QK3RA/R", "<B>")), "repeaters[1].call_sign"),
}  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "net.toml").write_text(NET, encoding="utf-8")
    (tmp_path / "roster.csv").write_text(ROSTER, encoding="utf-8")
    return tmp_path


@pytest.mark.skipif(os.name == "nt", reason="pipes and devices are made the POSIX way")
@pytest.mark.parametrize("name", REFUSED)
def test_one_clear_line_at_once(name: str, folder: Path) -> None:
    make, expected = REFUSED[name]
    make(folder)
    before = time.process_time()
    try:
        read_net(folder)
    except InputProblem as problem:
        lines = str(problem).splitlines()
        assert any(expected in line for line in lines), lines[:3]
        assert len(lines) <= 101 and all(line.isprintable() and len(line) < 1500 for line in lines)
    else:
        assert not expected  # what is passed over may be read in the end
    assert time.process_time() - before < LONGEST_S


def ring(points: int) -> str:
    corners = ",".join(f"[{-38.1 + i * 1e-6},{41.2 + (i % 2) * 1e-6}]" for i in range(points))
    return f'{{"type":"Polygon","coordinates":[[{corners}]]}}'


POLYGONS = {
    "deep": "[" * 100_000,
    "deep objects": '{"type":"Feature","geometry":' * 50_000,
    "5,000 digits": '{"type":"Polygon","coordinates":[[[' + "1" * 5000 + ",1],[1,2],[2,2],[1,1]]]}",
    "10^400": '{"type":"Polygon","coordinates":[[[1' + "0" * 400 + ",1],[1,2],[2,2],[1,1]]]}",
    "infinity": '{"type":"Polygon","coordinates":[[[Infinity,1],[1,2],[2,2],[1,1]]]}',
    "nan": '{"type":"Polygon","coordinates":[[[NaN,1],[1,2],[2,2],[1,1]]]}',
    "a million points": ring(300_000),
    "10,000 polygons": '{"type":"GeometryCollection","geometries":['
    + ",".join(['{"type":"Polygon","coordinates":[[[1,1],[1,2],[2,2],[1,1]]]}'] * 10_000) + "]}",
    "100,000 faulty ones": '{"type":"GeometryCollection","geometries":['
    + ",".join(['{"type":"Polygon","coordinates":[]}'] * 100_000) + "]}",
    "flat": '{"type":"Polygon","coordinates":[[[1,1],[1,1],[1,1],[1,1]]]}',
    "words": '{"type":"Polygon","coordinates":"\\u001b[31m"}',
    "a hostile key": '{"type":"Polygon","crs":{"type":"\\u001b[31m"},"coordinates":[]}',
}  # fmt: skip


@pytest.mark.parametrize("name", POLYGONS)
def test_a_search_area_is_refused_at_once(name: str, tmp_path: Path) -> None:
    (tmp_path / "area.geojson").write_text(POLYGONS[name], encoding="utf-8")
    before = time.process_time()
    with pytest.raises(InputProblem) as caught:
        read_polygons(tmp_path / "area.geojson")
    assert all(str(fault).startswith("area.geojson") for fault in caught.value.faults)
    assert all(line.isprintable() for line in str(caught.value).splitlines())
    assert len(caught.value.faults) <= 21
    assert time.process_time() - before < LONGEST_S


@pytest.mark.skipif(os.name == "nt", reason="names of bytes are POSIX")
def test_a_name_that_is_no_text(tmp_path: Path) -> None:
    path = Path(os.fsdecode(bytes(tmp_path) + b"/\xff\xfe.csv"))
    with pytest.raises(InputProblem, match=r"\\udcff\\udcfe\.csv: there is no such file"):
        read_text_file(path)
