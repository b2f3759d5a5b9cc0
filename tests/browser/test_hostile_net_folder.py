"""The real commands on a net folder full of hostile text: pages opened in a browser, tables read again."""

from __future__ import annotations

import csv
import io
import json
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from reach.commands.main import main

NAMES = (
    "<img src=x onerror=alert(1)>",
    "</script><script>alert(2)</script>",
    "`+alert(3)+` ${alert(4)}",
    "{{ cycler.__init__.__globals__.os.getcwd() }}",
    "{% for x in y %} {# no",
    '=HYPERLINK("http://example.invalid")',
    "\"'><svg/onload=alert(5)> \\u003cb\\u003e",
)
CALL_SIGNS = tuple(f"QK1A{letter}/P" for letter in "ABCDEFG")  # anything stranger is refused by the reader
NET = "[net] {{ 7*7 }} </script><script>alert(6)</script>"
CHANNEL = "{% if %} <b>two</b>"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("{{ net }} <b>")
    rows = [
        [call, name, "base", f"{41.2 + 0.01 * i:.3f}", f"{-38.2 + 0.011 * i:.3f}", "yes", "yes"]
        for i, (call, name) in enumerate(zip(CALL_SIGNS, NAMES, strict=True))
    ]
    text = io.StringIO()
    csv.writer(text).writerows(
        [["call_sign", "name", "category", "latitude", "longitude", "control", "relay"], *rows]
    )
    (made / "roster.csv").write_text(text.getvalue(), encoding="utf-8", newline="")
    (made / "net.toml").write_text(
        f"""
        [net]
        name = '''{NET}'''
        [[channels]]
        name = '''{CHANNEL}'''
        frequency_mhz = 146.52
        [[repeaters]]
        call_sign = "QK0R"
        name = '''{NAMES[0]}'''
        latitude = 41.24
        longitude = -38.19
        output_mhz = 146.94
        offset_mhz = -0.6
        """,
        encoding="utf-8",
    )
    (made / "terrain").mkdir()
    y, x = np.mgrid[0:240, 0:240] / 240.0
    hills = 80.0 + 60.0 * np.sin(9.0 * x) * np.cos(8.0 * y)
    with rasterio.open(
        made / "terrain" / "hills.tif", "w", driver="GTiff", width=240, height=240, count=1, dtype="float32",
        crs="EPSG:4326", transform=from_origin(-38.3, 41.35, 1.0 / 1200.0, 1.0 / 1200.0),
    ) as tile:  # fmt: skip
        tile.write(hills.astype(np.float32), 1)
        tile.units = ("m",)
    return made


@pytest.fixture
def reach(monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> Callable[..., str]:
    """The command in this process; gives what it said."""

    def run(*arguments: str | Path) -> str:
        monkeypatch.setattr(sys, "argv", ["reach", *map(str, arguments)])
        capfd.readouterr()
        with pytest.raises(SystemExit) as stopped:
            main()
        said = capfd.readouterr()
        assert not stopped.value.code, said.err
        return said.out

    return run


def shown(name: str) -> str:
    """A name as a table cell holds it: what a spreadsheet would run has an apostrophe in front."""
    return f"'{name}" if name.startswith(("=", "+", "-", "@")) else name


def test_simplex(folder: Path, reach: Callable[..., str], visit, tmp_path: Path) -> None:
    page, table, data = (tmp_path / name for name in ("map.html", "links.csv", "links.json"))
    text = reach("simplex", folder, "--map", page, "--csv", table, "--json", data)
    assert all(call in text for call in CALL_SIGNS)
    seen = visit(page.read_text(encoding="utf-8"))
    assert NET in seen.page.title() and CHANNEL in seen.page.locator("header").text_content()
    for i, (call, name) in enumerate(zip(CALL_SIGNS, NAMES, strict=True)):
        row = seen.page.locator(f"button[data-station='{i}']")
        assert row.locator("b").text_content() == call
        row.click()
        # the one before may still be fading away
        assert seen.page.locator(".leaflet-popup h3").last.text_content() == f"{call}, {name}"
    assert seen.page.locator("img:not(.leaflet-image-layer), svg[onload]").count() == 0
    assert seen.troubles == []
    rows = list(csv.DictReader(io.StringIO(table.read_text(encoding="utf-8"))))
    assert {row["station"] for row in rows} == {shown(call) for call in CALL_SIGNS}
    answer = json.loads(data.read_text(encoding="utf-8"))
    assert answer["net"] == NET and answer["answers"]["channel"] == CHANNEL


def test_repeater(folder: Path, reach: Callable[..., str], visit, tmp_path: Path) -> None:
    page, table = tmp_path / "map.html", tmp_path / "members.csv"
    assert "QK0R" in reach("repeater", folder, "--map", page, "--csv", table)
    seen = visit(page.read_text(encoding="utf-8"))
    assert "QK0R" in seen.page.locator("h1").text_content()
    assert seen.page.locator("img:not(.leaflet-image-layer), svg[onload]").count() == 0
    assert seen.troubles == []
    rows = list(csv.DictReader(io.StringIO(table.read_text(encoding="utf-8"))))
    assert [row["station"] for row in rows] == [shown(call) for call in CALL_SIGNS]


def test_an_online_map_is_asked_for_only_once_ticked(
    folder: Path, reach: Callable[..., str], visit, tmp_path: Path
) -> None:
    page, credit = tmp_path / "map.html", NAMES[0]
    address = "https://tiles.example.invalid/{z}/{x}/{y}.png"
    reach("repeater", folder, "--map", page, "--online", address, "--credit", credit)
    seen = visit(page.read_text(encoding="utf-8"))
    seen.page.wait_for_timeout(300)
    assert len(seen.requests) == 1  # the page itself
    seen.page.locator("input[data-layer=online]").check()
    seen.page.wait_for_timeout(300)
    asked = seen.requests[1:]
    assert asked and all(url.startswith("https://tiles.example.invalid/") for url in asked)
    assert credit in seen.page.locator(".leaflet-control-attribution").inner_text()


def test_path_picture_and_check(folder: Path, reach: Callable[..., str], tmp_path: Path) -> None:
    picture = tmp_path / "path.svg"
    reach("path", folder, CALL_SIGNS[0], CALL_SIGNS[3], "--picture", picture)
    drawn = picture.read_text(encoding="utf-8")
    assert "<script" not in drawn and "<b>" not in drawn
    listed = csv.DictReader(io.StringIO(reach("check", folder, "--csv", "-")))
    assert [row["name"] for row in listed][: len(NAMES)] == [shown(name) for name in NAMES]
