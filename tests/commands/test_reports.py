"""`reach report` and `reach trust` as a user runs them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.answers.small_net import made_in
from tests.answers.test_learned import heard_on

from .conftest import Run


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "heard.csv").write_text(heard_on(4), encoding="utf-8")
    return made_in(tmp_path)


def test_from_a_file_to_a_corrected_plan_and_back(reach_here: Run, folder: Path, tmp_path: Path) -> None:
    taken = reach_here("report", folder, tmp_path / "heard.csv")
    assert taken.returncode == 0
    assert taken.stdout.startswith("32 reports added; 32 reports stored.")
    assert "nothing was added" in reach_here("report", folder, tmp_path / "heard.csv").stdout
    assert "corrected by" in " ".join(reach_here("simplex", folder, columns=200).stdout.split())
    plain = reach_here("simplex", folder, "--as-predicted", columns=200).stdout
    assert "As predicted: 32 reports of who was really heard left aside." in plain
    judged = reach_here("trust", folder, "--picture", tmp_path / "trust.svg", columns=140)
    assert judged.returncode == 0
    assert "heard or not foretold rightly" in judged.stdout
    assert (tmp_path / "trust.svg").read_text(encoding="utf-8").lstrip().startswith("<?xml")
    shown = reach_here("path", folder, "QK1A", "QK1B", columns=200).stdout
    assert "Predicted, heard, corrected" in shown
    assert "heard on 0 of 4 evenings" in shown
    for name in ("all.csv", "all.adi"):
        assert reach_here("report", folder, "--export", tmp_path / name).returncode == 0
    again = reach_here("report", folder, tmp_path / "all.csv").stdout
    assert again.startswith("0 reports added, 32 known already")
    assert (tmp_path / "all.adi").read_text(encoding="utf-8").count("<EOR>") == 32


def test_the_exit_code_tells(reach_here: Run, folder: Path, tmp_path: Path) -> None:
    mixed, bad = tmp_path / "mixed.csv", tmp_path / "bad.csv"
    mixed.write_text("date,station,hears\n2026-09-01,QK1A,QK1B\n2026-09-31,QK1A,QK1B\n", encoding="utf-8")
    bad.write_text("\x00\x01", encoding="utf-8")
    some = reach_here("report", folder, mixed)
    assert some.returncode == 1
    assert 'mixed.csv, row 3: "2026-09-31 12:00" is no day or time there is; check it.' in some.stderr
    refused = reach_here("report", folder, bad)
    assert refused.returncode == 2
    assert "Traceback" not in refused.stderr
    spoken = reach_here("report", folder, "QK1A shouts at QK1B")
    assert spoken.returncode == 2
    assert "QK3ABC hears QK3DEF R4" in spoken.stderr
    assert reach_here("trust", folder).returncode == 2
    stored = json.loads(reach_here("report", folder, "--json", "-").stdout)
    assert stored["stored"] == 1


def test_results_never_take_the_place_of_the_reports(reach_here: Run, folder: Path) -> None:
    assert reach_here("report", folder, "QK1A hears QK1B R4").returncode == 0
    asked = reach_here("simplex", folder, "--json", folder / "reports.sqlite", "--replace")
    assert asked.returncode == 2
    assert "net folder's own data" in asked.stderr
