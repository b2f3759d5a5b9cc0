"""An exercise as a club runs it: questions, answers, and a form that is read back when it is filled in."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from reach.answers.exercise_questions import QUESTIONS
from tests.answers.small_net import made_in

from .conftest import Run


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return made_in(tmp_path)


@pytest.fixture
def form(reach_here: Run, folder: Path, tmp_path: Path) -> Path:
    """An exercise's form, as it is written."""
    made = reach_here("exercise", folder, "--rounds", "4", "--form", tmp_path / "form.csv")
    assert made.returncode == 0, made.stderr
    return tmp_path / "form.csv"


def filled(form: Path, write: Callable[[int, dict[str, str]], None]) -> list[dict[str, str]]:
    """The form saved again by a spreadsheet after `write` has filled its rows."""
    rows = list(csv.DictReader(io.StringIO(form.read_bytes().decode("utf-8"))))
    for number, row in enumerate(rows):
        write(number, row)
    with form.open("w", encoding="utf-8", newline="") as file:
        out = csv.DictWriter(file, list(rows[0]))
        out.writeheader()
        out.writerows(rows)
    return rows


def test_questions_hold_no_answer_and_answers_stand_apart(
    reach_here: Run, folder: Path, tmp_path: Path
) -> None:
    asked, told = tmp_path / "q.txt", tmp_path / "a.txt"
    run = reach_here(
        "exercise", folder, "--rounds", "4", "--questions", asked, "--answers", told,
        "--json", tmp_path / "e.json",
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    rounds = json.loads((tmp_path / "e.json").read_text(encoding="utf-8"))["answers"]["rounds"]
    questions, answers = (" ".join(path.read_text(encoding="utf-8").split()) for path in (asked, told))
    for text in (questions, answers):
        assert all(text.count(question) == len(rounds) for question in QUESTIONS[:-1])
        assert all(f"Round {r['round']}. {r['lost']}." in text for r in rounds)
    for r in rounds:
        under = f"under {r['net_control']}" if r["net_control"] else "There is no net."
        assert under in answers
        assert under not in questions and under not in run.stdout
    assert any(r["net_control"] for r in rounds)
    same = reach_here("exercise", folder, "--questions", tmp_path / "x.txt", "--answers", tmp_path / "x.txt")
    assert same.returncode == 2 and "two results would go into the same file" in same.stderr


def test_a_filled_form_comes_back_as_what_was_written(
    reach_here: Run, folder: Path, form: Path, tmp_path: Path
) -> None:
    def write(number: int, row: dict[str, str]) -> None:
        row["date"], row["time"] = "2026-03-03", f"19:{number:02d}"  # filled down to the end
        if number % 3 == 0:
            row["heard"], row["readability"] = "yes", "R4"
        elif number % 3 == 1:
            row["heard"] = "no"  # and the third is left open

    rows = filled(form, write)
    done = [row for row in rows if row["heard"]]
    assert 0 < len(done) < len(rows)
    taken = reach_here("report", folder, form)
    assert taken.returncode == 0, taken.stderr
    assert taken.stdout.startswith(f"{len(done)} reports added; {len(done)} reports stored.")
    told = " ".join(taken.stdout.split())
    left = len(rows) - len(done)
    assert (
        f"form.csv: {left} row{'s were' if left > 1 else ' was'} passed over, with no result written." in told
    )
    assert "not a name known here" not in told
    assert reach_here("report", folder, "--export", tmp_path / "all.csv").returncode == 0
    kept = csv.DictReader(io.StringIO((tmp_path / "all.csv").read_text(encoding="utf-8")))
    shown = ("station", "hears", "on", "heard", "list")
    assert [tuple(row[name] for name in shown) for row in kept] == [
        tuple(row[name] for name in shown) for row in done
    ]


def test_a_form_filled_in_part_keeps_what_it_says(reach_here: Run, folder: Path, form: Path) -> None:
    """Rows with neither date nor result wait; a result with no date is a fault of its row alone."""

    def write(number: int, row: dict[str, str]) -> None:
        if number == 0:
            row["date"], row["readability"] = "2026-03-03", "5"
        elif number == 2:
            row["heard"] = "no"

    filled(form, write)
    taken = reach_here("report", folder, form)
    assert taken.returncode == 1
    assert taken.stderr.splitlines() == ["form.csv, row 4, column date: date is missing; fill it in."]
    assert taken.stdout.startswith("1 report added, 1 fault in rows left out; 1 report stored.")


def test_an_empty_form_says_what_to_write(reach_here: Run, folder: Path, form: Path) -> None:
    taken = reach_here("report", folder, form)
    assert taken.returncode == 2
    (line,) = taken.stderr.splitlines()
    assert line.startswith("form.csv: no row has a result yet; write yes or no under heard")


def test_a_folder_that_is_no_net_folder_is_named_even_when_it_is_this_one(
    reach_here: Run, tmp_path: Path
) -> None:
    run = reach_here("exercise", ".", cwd=tmp_path)
    assert run.returncode == 2
    assert run.stderr.splitlines() == [
        "net.toml: there is no such file here; `reach new FOLDER` writes one to start from."
    ]
