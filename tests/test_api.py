"""The job in a few lines from a program, on a small net folder made here."""

from __future__ import annotations

import ast
import datetime
import textwrap
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

import reach.api
from reach.drawings.profile_plot import PictureForm
from reach.errors import InputProblem, OutputProblem, ReachError
from reach.files import Existing
from tests.answers.small_net import made_in

NET = """
[net]
name = "Small net"

[terrain]
folders = ["terrain"]

[schedule]
weekday = "tuesday"
start = "19:30"

[[channels]]
name = "two metres"
frequency_mhz = 146.52

[[channels]]
name = "six metres"
frequency_mhz = 52.525

[[repeaters]]
call_sign = "QK0R"
latitude = 41.37
longitude = -37.95
output_mhz = 146.94
input_mhz = 146.34
antenna_height_m = 20
power_w = 50
"""

ROSTER = """call sign,category,latitude,longitude,control,relay
QK1A,base,41.35,-37.95,yes,yes
QK1B,base,41.40,-37.90,yes,yes
QK1H,portable,41.33,-37.92,no,no
QK1N,internet,41.36,-37.90,no,no
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("net")
    (folder / "net.toml").write_text(NET, encoding="utf-8")
    (folder / "roster.csv").write_text(ROSTER, encoding="utf-8")
    (folder / "terrain").mkdir()
    y, x = np.mgrid[0:300, 0:300] / 300.0
    with rasterio.open(
        folder / "terrain" / "land.tif",
        "w",
        driver="GTiff",
        width=300,
        height=300,
        count=1,
        dtype="float32",
        crs="EPSG:4326",
        transform=from_origin(-38.0, 41.5, 0.25 / 300, 0.25 / 300),
    ) as tile:
        tile.write((100.0 + 40.0 * np.sin(9.0 * x) * np.cos(11.0 * y)).astype(np.float32), 1)
        tile.units = ("m",)
    return folder


def test_the_lines_of_the_documentation_run(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    text = ast.get_docstring(ast.parse(Path(reach.api.__file__).read_text(encoding="utf-8"))) or ""
    lines = text[text.index("    import datetime") : text.index("`Club` has one method")]
    code = textwrap.dedent(lines).replace('"our-net"', repr(str(folder)))
    code = code.replace("QK1ABC", "QK1A").replace("QK2DEF", "QK1B")
    assert len([line for line in code.splitlines() if line.strip()]) == 13
    monkeypatch.chdir(tmp_path)
    exec(compile(code, "documentation", "exec"), {})
    written = ["path.png", "repeater.html", "sheet.pdf", "simplex.html"]
    assert sorted(file.name for file in tmp_path.iterdir()) == written
    assert "net control" in capsys.readouterr().out
    assert (tmp_path / "path.png").read_bytes().startswith(b"\x89PNG")
    assert "QK1H" in (tmp_path / "simplex.html").read_text(encoding="utf-8")
    assert "QK0R" in (tmp_path / "repeater.html").read_text(encoding="utf-8")


def test_results_agree_with_each_other(folder: Path) -> None:
    with reach.api.load(folder) as club:
        six = club.simplex("Six Metres")
        assert six.channel.frequency_mhz == 52.525
        assert club.simplex().channel.frequency_mhz == 146.52
        study = club.path("QK1A", "QK1B", channel="six metres").study
        assert study.there.margin_db == pytest.approx(six.network.link("QK1A", "QK1B").margin_db, abs=1e-6)
        chosen = club.simplex("six metres", control="QK1B")
        assert chosen.plan is not None and chosen.plan.control == "QK1B"
        assert six.plan is not None and six.plan.control == six.controls[0].call_sign
        reached = club.repeater("qk0r")
        assert reached.networks[0].no_radio == ("QK1N",)
        assert any("QK1H" in note and note.startswith("Assumed") for note in reached.assumed)
        assert club.check().ready


def test_every_command_that_asks_has_its_method(folder: Path) -> None:
    from reach.commands.main import COMMANDS

    asking = set(COMMANDS) - {"columns", "demo", "desk", "guide", "new", "report", "selfcheck", "tiles"}
    assert asking <= {name for name in dir(reach.api.Club) if not name.startswith("_")}


def test_pictures_show_in_a_notebook_and_never_overwrite_unasked(folder: Path, tmp_path: Path) -> None:
    with reach.api.load(folder) as club:
        page = club.draw(club.repeater())
        picture = club.draw(club.path("QK1H", "QK0R"), form=PictureForm.SVG)
    assert isinstance(page, reach.api.MapPage)
    assert isinstance(picture, reach.api.PathPicture)
    shown = page._repr_html_()
    assert shown.startswith("<iframe srcdoc=")
    assert "<script" not in shown  # escaped: the page stays inside the frame
    assert picture._repr_png_() is None
    assert "<svg" in (picture._repr_svg_() or "")
    target = tmp_path / "map.html"
    page.save(target)
    with pytest.raises(OutputProblem, match="already exists"):
        page.save(target)
    page.save(target, existing=Existing.REPLACE)


def test_what_is_not_there_is_named(folder: Path, tmp_path: Path) -> None:
    with reach.api.load(folder) as club:
        with pytest.raises(InputProblem, match=r'"ten" is no channel of Small net; .*two metres'):
            club.simplex("ten")
        with pytest.raises(InputProblem, match=r'"QK9R" is no repeater of Small net'):
            club.repeater("QK9R")
        with pytest.raises(InputProblem, match=r'"QK9Z" is'):
            club.path("QK1A", "QK9Z")
    with pytest.raises(InputProblem, match=r"net\.toml"):
        reach.api.load(tmp_path)


def test_papers_are_saved_in_the_form_their_name_says(folder: Path, tmp_path: Path) -> None:
    with reach.api.load(folder) as club:
        found = club.sheet(day=datetime.date(2026, 12, 1))
        sheet = club.paper(found)
        kit = club.paper(club.kit("QK1A"))
    assert sheet.save(tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")
    assert "QK1H" in sheet.save(tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert sheet.save(tmp_path / "sheet.txt").read_text(encoding="utf-8") == sheet.text
    assert "Tue 2026-12-01" in sheet.text
    assert "stay on for simplex" in sheet.text or found.plan.relays == ()
    with pytest.raises(OutputProblem, match=r"sheet\.docx: a paper is written as \.pdf"):
        sheet.save(tmp_path / "sheet.docx")
    with pytest.raises(OutputProblem, match="already exists"):
        sheet.save(tmp_path / "sheet.txt")
    assert sheet._repr_html_().startswith("<iframe")
    assert "QK1A" in kit.text


def test_turns_changes_and_check_ins(folder: Path) -> None:
    start = datetime.date(2026, 12, 1)
    with reach.api.load(folder) as club:
        plan = club.simplex().plan
        assert plan is not None
        turns = club.control(start=start, nets=3, last="qk1a").turns
        assert [turn.start.date().isoformat() for turn in turns] == ["2026-12-01", "2026-12-08", "2026-12-15"]
        assert turns[0].control == "QK1B"
        less = club.what_if(["without QK1H"])
        assert "QK1H is not in the net." in [difference.words for difference in less.differences]
        assert less.plan.on_air == plan.on_air - 1
        assert club.what_if([f"{plan.control} control yes"]).differences == ()
        expected = club.relays(seed=1, evenings=2000).check_ins
        assert expected == club.relays(seed=1, evenings=2000).check_ins
        assert 0.0 <= expected.all_ways.expected <= plan.reached + len(plan.left_out)
        with pytest.raises(InputProblem, match=r'"QK9Z" is'):
            club.simplex(control="QK9Z")
        with pytest.raises(InputProblem, match=r"QK9Z"):
            club.what_if(["without QK9Z"])
        with pytest.raises(InputProblem, match="the schedule gives no net"):
            club.control(start=start, until=datetime.date(2026, 11, 1))


def test_losses_rehearsals_and_portable_relays_are_asked_like_the_rest(folder: Path) -> None:
    with reach.api.load(folder) as club:
        losses = club.backup("QK0R")
        assert "QK0R down" in losses.headline
        assert isinstance(club.draw(losses), reach.api.MapPage)
        assert len(club.exercise(seed=2, rounds=3).rows.rows) == 3
        near = club.area("QK0R", radius_m=2_000.0, cell_m=90.0)
        assert near.sites[0].call_sign == "QK0R"


def test_reports_change_what_a_club_plans(tmp_path: Path) -> None:
    now = datetime.datetime(2026, 11, 25, 12, 0, tzinfo=datetime.UTC)
    folder = made_in(tmp_path)
    with reach.api.load(folder) as club:
        before = club.simplex().network.link("QK1B", "QK1A")
        with pytest.raises(ReachError, match="no reports yet"):
            club.trust()
        for day in range(1, 4):
            club.report(f"QK1A does not hear QK1B 2026-11-0{day}", now=now)
        after = club.simplex().network.link("QK1B", "QK1A")
        assert after.margin_db < before.margin_db
        assert "QK1A" in {total.call_sign for band in club.trust().bands for total in band.stations}
        assert club.draw(club.trust())._repr_png_()  # type: ignore[union-attr]
    with reach.api.load(folder, basis=reach.api.Basis.PREDICTED) as club:
        assert club.simplex().network.link("QK1B", "QK1A") == before
