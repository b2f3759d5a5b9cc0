"""Every reader against mutated input: it answers, or refuses in words fit to show; it never breaks down.

A short, repeatable run is part of the tests. A long one, new inputs every time, so many for each reader:
REACH_FUZZ=20000 pytest tests/hostile/test_fuzz_readers.py. Put an input that failed into corpus/READER/,
where it is tried for good.
"""

from __future__ import annotations

import datetime
import os
import re
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import rasterio
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rasterio.transform import from_origin

from reach.drawings.papers.script import checked_script, default_script
from reach.errors import InputProblem
from reach.inputs import quantities, station_fields
from reach.inputs.announcements import read_announcements
from reach.inputs.call_signs import parse_call_sign
from reach.inputs.changes import changed_net
from reach.inputs.club import read_net
from reach.inputs.locators import parse_position
from reach.inputs.measured import parse_measured
from reach.inputs.polygons import read_polygons
from reach.inputs.report_files import read_reports
from reach.inputs.reports_by_hand import parse_spoken
from reach.inputs.reports_csv import Reading
from reach.inputs.roster import parse_roster
from reach.inputs.roster_edit import roster_edit
from reach.inputs.search_area import parse_slope_deg
from reach.inputs.served_places import parse_places
from reach.inputs.text_files import decoded
from reach.terrain.clutter import LandCover
from reach.terrain.tiles import Terrain

CORPUS = Path(__file__).parent / "corpus"
LONG = int(os.environ.get("REACH_FUZZ", "0"))
SHORT = 60
STARTER = Path(__file__).parents[2] / "reach" / "inputs" / "starter"

TOKENS: tuple[bytes, ...] = (
    b"", b"\0", b"\n", b"\r", b",", b";", b'"', b"'", b"[", b"]", b"{", b"}", b"=", b".", b"..", b"/",
    b"\\", b"<", b">", b"&", b"%", b"{{", b"{%", b"-", b"+", b"0", b"-0", b"1e400", b"nan", b"inf",
    b"-inf", b"1" + b"0" * 400, b"9" * 5000, b"\x1b[31m", b"\x7f", b"\xff\xfe", b"\xef\xbb\xbf",
    b"\xed\xa0\x80", "\u202e".encode(), "é".encode(), "１".encode(), "−".encode(), b"-9999", b"-32768",
    b"1,5", b"1 000", b"0x10", b"1_0", b"true", b"=1+1", b"../..", b"/dev/zero",
    b"/vsicurl/http://127.0.0.1:9/", b"http://127.0.0.1:9/a", b"call_sign", b"latitude", b"frequency_mhz",
    b"[[channels]]", b"[net]", b"Polygon", b"coordinates", b"null", b'relativeToVRT="1"',
    b"<NoDataValue>0</NoDataValue>", b"VRTRawRasterBand", b"<SourceFilename>", b"2000000000", b"II*\0",
    b"MM\0*", b"\xff\xff\xff\xff", b"\0\0\0\0", b"\x01\0",
)  # fmt: skip


@st.composite
def mutated(draw: st.DrawFn, seeds: tuple[bytes, ...]) -> bytes:
    """A seed with up to eight pieces cut out, put in, doubled or overwritten."""
    data = bytearray(draw(st.sampled_from(seeds)))
    for _ in range(draw(st.integers(1, 8))):
        at = draw(st.integers(0, len(data)))
        length = draw(st.integers(0, 40))
        how = draw(st.sampled_from(("cut", "insert", "double", "overwrite", "bytes")))
        if how == "cut":
            del data[at : at + length]
        elif how == "insert":
            data[at:at] = draw(st.sampled_from(TOKENS))
        elif how == "double":
            data[at:at] = data[at : at + length] * draw(st.integers(1, 30))
        elif how == "overwrite":
            token = draw(st.sampled_from(TOKENS))
            data[at : at + len(token)] = token
        else:
            data[at : at + length] = draw(st.binary(max_size=length))
    return bytes(data)


def fit_to_show(problem: InputProblem) -> None:
    for fault in problem.faults:
        assert str(fault).isprintable() and len(str(fault)) < 2000, str(fault)[:300]


# the readers, each from bytes -----------------------------------------------------------------------------


def read_roster_bytes(data: bytes, folder: Path) -> None:
    roster = parse_roster(decoded(data, file="roster.csv"))
    assert all(np.isfinite(s.position.latitude_deg) and s.antenna.height_m >= 0.0 for s in roster.stations)


def read_net_bytes(data: bytes, folder: Path) -> None:
    (folder / "net.toml").write_bytes(data)
    (folder / "roster.csv").write_text(
        "call_sign,latitude,longitude,category\nQK3ABC,41.2,-38.1,base\n", encoding="utf-8"
    )
    net = read_net(folder)
    assert all(20.0 <= channel.frequency_mhz <= 3000.0 for channel in net.channels)


def read_polygon_bytes(data: bytes, folder: Path) -> None:
    (folder / "area.geojson").write_bytes(data)
    for polygon in read_polygons(folder / "area.geojson"):
        assert all(abs(lon) <= 180.0 and abs(lat) <= 90.0 for lon, lat in polygon.outer)


def read_view_bytes(data: bytes, folder: Path) -> None:
    _tile(folder / "data.bin.tif")
    (folder / "raw.bin").write_bytes(np.full(64 * 64, 100, dtype="<i2").tobytes())
    (folder / "tiles").mkdir(exist_ok=True)
    (folder / "tiles" / "a.vrt").write_bytes(data)
    _sampled(folder / "tiles")


def read_tiff_bytes(data: bytes, folder: Path) -> None:
    (folder / "tiles").mkdir(exist_ok=True)
    (folder / "tiles" / "a.tif").write_bytes(data)
    _sampled(folder / "tiles")


def read_cells(data: bytes, folder: Path) -> None:
    """One text through every reader of a single cell."""
    text = decoded(data, file="cell")
    readers: tuple[Callable[[str], object], ...] = (
        parse_call_sign, parse_position, parse_slope_deg, quantities.parse_number,
        quantities.parse_antenna_height_m, quantities.parse_power_dbm, quantities.parse_gain_dbi,
        quantities.parse_sensitivity_dbm, quantities.parse_frequency_mhz, quantities.parse_duration_h,
        station_fields.parse_antenna, station_fields.parse_feed_line, station_fields.parse_extra_loss,
        station_fields.parse_backup,
    )  # fmt: skip
    for reader in readers:
        try:
            reader(text)
        except InputProblem as problem:
            fit_to_show(problem)


AGAINST = Reading(
    read_net(STARTER),
    datetime.UTC,
    datetime.datetime(2026, 11, 27, tzinfo=datetime.UTC),
)


def read_heard_bytes(data: bytes, folder: Path) -> None:
    """Reports of who was heard, as a spreadsheet and as a log of either form."""
    for name in ("heard.csv", "log.adi", "log.adx"):
        (folder / name).write_bytes(data)
        try:
            found, _ = read_reports(folder / name, against=AGAINST, owner="QK3ABC")
        except InputProblem as problem:
            fit_to_show(problem)
            continue
        for fault in found.faults:
            assert str(fault).isprintable() and len(str(fault)) < 2000, str(fault)[:300]
        assert all(row.report.at <= AGAINST.read_at for row in found.rows)


def read_text_bytes(data: bytes, folder: Path) -> None:
    """Tables and texts that stand beside net.toml, and what is said in one line, each by its own reader."""
    text = decoded(data, file="text")
    (folder / "announcements.txt").write_bytes(data)
    readers: tuple[Callable[[], object], ...] = (
        lambda: parse_places(text),
        lambda: parse_measured(text, file="measured.csv"),
        lambda: read_announcements(folder),
        lambda: checked_script(text),
        lambda: parse_spoken(text, against=AGAINST),
        lambda: changed_net(AGAINST.net, [text]),
        lambda: roster_edit(data, ["QK3ABC power 50 W"]),
    )
    for reader in readers:
        try:
            reader()
        except InputProblem as problem:
            fit_to_show(problem)


def _tile(path: Path) -> bytes:
    if not path.exists():
        with rasterio.open(
            path, "w", driver="GTiff", width=64, height=64, count=1, dtype="int16", crs="EPSG:4326",
            transform=from_origin(-72.0, 42.0, 0.01, 0.01), tiled=True, blockxsize=32, blockysize=32,
        ) as data:  # fmt: skip
            data.write(np.full((64, 64), 100, dtype="int16"), 1)
            data.set_band_unit(1, "m")
    return path.read_bytes()


def _sampled(tiles: Path) -> None:
    lat, lon = np.meshgrid(np.linspace(41.3, 42.1, 30), np.linspace(-72.1, -71.3, 30))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with Terrain.open([tiles], elevation_unit="m") as terrain:
            found = terrain.sample(lat, lon)
    assert ((found >= -500.0) & (found <= 9000.0) | np.isnan(found)).all()
    for path in tiles.iterdir():
        with LandCover(path) as cover:
            cover.codes(lat, lon)


VIEW = b"""<VRTDataset rasterXSize="64" rasterYSize="64"><SRS>EPSG:4326</SRS>
<GeoTransform>-72,0.01,0,42,0,-0.01</GeoTransform><VRTRasterBand dataType="Int16" band="1">
<UnitType>m</UnitType><ComplexSource>
<SourceFilename relativeToVRT="1">../data.bin.tif</SourceFilename><SourceBand>1</SourceBand>
<SrcRect xOff="0" yOff="0" xSize="64" ySize="64"/><DstRect xOff="0" yOff="0" xSize="32" ySize="64"/>
<ScaleOffset>1</ScaleOffset><NODATA>-9999</NODATA></ComplexSource></VRTRasterBand></VRTDataset>"""
RAW_VIEW = b"""<VRTDataset rasterXSize="64" rasterYSize="64"><SRS>EPSG:4326</SRS>
<GeoTransform>-72,0.01,0,42,0,-0.01</GeoTransform><VRTRasterBand dataType="Int16" band="1"
subClass="VRTRawRasterBand"><UnitType>m</UnitType>
<SourceFilename relativeToVRT="1">../raw.bin</SourceFilename>
<ImageOffset>0</ImageOffset><PixelOffset>2</PixelOffset><LineOffset>128</LineOffset></VRTRasterBand></VRTDataset>"""
POLYGON = (
    b'{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"hill"},"geometry":'
    b'{"type":"Polygon","coordinates":[[[-38.2,41.2],[-38.0,41.2],[-38.0,41.4],[-38.2,41.2]]]}}]}'
)
CELLS = (
    b"35 ft", b"50 W", b"6 dBd", b"0.2 uV", b"146.52 MHz", b"8 h", b"12 Ah 13.8 V", b"RG-213 30 m",
    b"QK3ABC/P", b"41.2083, -38.1500", b"41 12 30 N 38 9 0 W", b"HN01ab23", b"indoors + on the belt",
    b"base vertical", b"27 %", b"10,7 m",
)  # fmt: skip
ROSTER = (STARTER / "roster.csv").read_bytes()
HEARD = (
    b"date,time,station,hears,on,heard,report\n2026-11-26,20:00,QK3ABC,QK3DEF,two metres,yes,R4\n",
    b"Log<ADIF_VER:5>3.1.4<EOH>\n<CALL:6>QK3DEF<QSO_DATE:8>20261126<TIME_ON:4>2000<FREQ:6>146.52<MODE:2>FM"
    b"<RST_RCVD:2>59<EOR>",
    b"<?xml version='1.0'?><ADX><HEADER/><RECORDS><RECORD><CALL>QK3DEF</CALL><QSO_DATE>20261126</QSO_DATE>"
    b"<TIME_ON>2000</TIME_ON><FREQ>146.52</FREQ><MODE>FM</MODE></RECORD></RECORDS></ADX>",
)
TEXTS = (
    b"name,kind,latitude,longitude\nHall,shelter,41.35,-37.86\n",
    b"tx_latitude,tx_longitude,rx_latitude,rx_longitude,tx_height,rx_height,frequency,loss\n"
    b"41.3,-37.9,41.4,-37.8,10 m,2 m,146.52 MHz,140 dB\n",
    b"# tonight\nThe hall is open.\n\nA swap meet on Saturday.\n",
    default_script().encode(),
    b"QK3ABC hears QK3DEF R4 two metres",
    b"without QK3ABC",
    ROSTER[:1500],
)
NETS = b"""
[[nets]]
name = "Thursday net"
weekday = "thursday"
start = "20:00"
on = "both"
repeater = "QK3RPT/R"
control_candidates = ["QK3ABC"]
"""
NET = (STARTER / "net.toml").read_bytes()
SEVERAL_NETS = re.sub(rb"^\[schedule\](\n.+)*", b"", NET, flags=re.MULTILINE) + NETS
READERS: dict[str, tuple[Callable[[bytes, Path], None], tuple[bytes, ...]]] = {
    "roster": (read_roster_bytes, (ROSTER[:1500], b"call_sign;position;category\nQK3ABC;HN01ab23;base\n")),
    "net": (
        read_net_bytes,
        (NET, SEVERAL_NETS),
    ),
    "polygons": (read_polygon_bytes, (POLYGON,)),
    "view": (read_view_bytes, (VIEW, RAW_VIEW)),
    "tiff": (read_tiff_bytes, ()),
    "cells": (read_cells, CELLS),
    "heard": (read_heard_bytes, HEARD),
    "texts": (read_text_bytes, TEXTS),
}


@pytest.mark.parametrize("reader", READERS)
def test_mutated_input_is_answered_or_refused(reader: str, tmp_path: Path) -> None:
    read, seeds = READERS[reader]
    seeds = seeds or (_tile(tmp_path / "seed.tif"),)

    @settings(
        max_examples=LONG or SHORT, derandomize=not LONG, database=None, deadline=None,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(data=mutated(seeds))
    def run(data: bytes) -> None:
        try:
            read(data, tmp_path)
        except InputProblem as problem:
            fit_to_show(problem)

    run()


@pytest.mark.parametrize("seed", READERS)
def test_the_seeds_themselves_are_read(seed: str, tmp_path: Path) -> None:
    read, seeds = READERS[seed]
    for data in seeds or (_tile(tmp_path / "seed.tif"),):
        try:
            read(data, tmp_path)
        except InputProblem as problem:
            assert "land-cover" in str(problem) or seed == "roster", problem


CASES = sorted(path for path in CORPUS.rglob("*") if path.is_file())


@pytest.mark.parametrize("case", CASES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_what_once_failed(case: Path, tmp_path: Path) -> None:
    read, _ = READERS[case.parent.name]
    try:
        read(case.read_bytes(), tmp_path)
    except InputProblem as problem:
        fit_to_show(problem)
