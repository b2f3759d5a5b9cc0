"""Backup, exercise and kit on the demo club, run as a user runs them."""

from __future__ import annotations

import csv
import html
import io
import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from reach.answers.backup import asked_outage
from reach.answers.open_net import OpenNet, open_net
from reach.answers.rules import chosen_rules
from reach.answers.surveys import survey_net
from reach.machinery.progress import unwatched
from reach.plans.outages.backup import plan_outage
from reach.plans.outages.failures import Mains, NetSurvey, Outage
from reach.plans.outages.remedies import remedies
from reach.plans.outages.single_points import single_points
from reach.stations import Net

from .conftest import Run


def rewritten(club: Path, to: Path, change) -> Path:
    """The club with its roster and settings changed; terrain stays where it is."""
    to.mkdir()
    for name in ("net.toml", "roster.csv"):
        shutil.copy(club / name, to / name)
    toml = (to / "net.toml").read_text(encoding="utf-8")
    (to / "net.toml").write_text(
        toml.replace('folders = ["terrain"]', f'folders = ["{(club / "terrain").as_posix()}"]'),
        encoding="utf-8",
    )
    change(to)
    return to


def no_backup(folder: Path) -> None:
    rows = list(csv.DictReader(io.StringIO((folder / "roster.csv").read_text(encoding="utf-8"))))
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]))
    writer.writeheader()
    for row in rows:
        writer.writerow({**row, "backup": "no" if row["category"] != "internet" else ""})
    (folder / "roster.csv").write_text(out.getvalue(), encoding="utf-8")


def no_repeater(folder: Path) -> None:
    toml = (folder / "net.toml").read_text(encoding="utf-8")
    start, end = toml.index("[[repeaters]]"), toml.index("[planning]")
    (folder / "net.toml").write_text(toml[:start] + toml[end:], encoding="utf-8")


def test_the_first_screen_is_one_table_and_no_more(reach: Run, club: Path) -> None:
    run = reach("backup", club, columns=200)
    assert run.returncode == 0, run.stderr
    lines = run.stdout.splitlines()
    assert lines[0].startswith("6 cases: ") and "of 24 take part at best" in lines[0]
    for letter, lost in zip(
        "ABCDE", ("Nothing lost", "QK3RA down", "QK3RB down", "QK3RA, QK3RB down", "Mains")
    ):
        assert any(line.startswith(f"{letter}   {lost}") for line in lines)
    for heading in ("net control", "stand-in", "channel", "relays", "reached", "lasts"):
        assert heading in run.stdout
    assert len(lines) <= 20 and "emergency number" in lines[-1]


def test_details_are_there_for_the_asking(reach_here: Run, club: Path) -> None:
    run = reach_here("backup", club, "--case", "e", columns=200)
    assert run.returncode == 0 and run.stdout.startswith("Case E. Mains lost: ")
    assert "off the air without backup power" in run.stdout and "Where each calls" in run.stdout
    assert (
        "Battery hours, with the net in session all the time" in run.stdout and "single point" in run.stdout
    )
    everything = reach_here("backup", club, "--all", columns=200).stdout
    assert [everything.count(f"Case {letter}. ") for letter in "ABCDEF"] == [1] * 6
    wrong = reach_here("backup", club, "--case", "Z")
    assert (
        wrong.returncode == 2
        and '"Z" is no case of this plan; choose one of: A (nothing lost)' in wrong.stderr
    )


def test_the_wall_sheet_fits_a_page_in_every_form(reach_here: Run, club: Path, tmp_path: Path) -> None:
    run = reach_here(
        "backup",
        club,
        "--pdf",
        tmp_path / "w.pdf",
        "--page",
        tmp_path / "w.html",
        "--text",
        tmp_path / "w.txt",
    )
    assert run.returncode == 0, run.stderr
    assert len(PdfReader(tmp_path / "w.pdf").pages) == 1
    text = " ".join((tmp_path / "w.txt").read_text(encoding="utf-8").split())
    page = html.unescape((tmp_path / "w.html").read_text(encoding="utf-8"))
    for letter in "ABCDEF":
        assert f"{letter} " in text and f'<td class="strong">{letter}</td>' in page
    assert "stand-in" in text and "relays for" in text and "relays for" in page


def test_a_run_sheet_for_an_outage(reach_here: Run, club: Path) -> None:
    run = reach_here("sheet", club, "--down", "QK3RA", "--no-mains")
    assert run.returncode == 0, run.stderr
    assert "QK3RA down, mains lost" in run.stdout and "[ ] QK3" in run.stdout
    case = reach_here("backup", club, "--down", "QK3RA", "--no-mains", "--json", "-")
    plan = json.loads(case.stdout)["answers"]["cases"][-1]["plan"]
    assert f"Net control: {plan['control']}" in run.stdout
    assert f"Stand-in:    {plan['stand_in']['call_sign']}" in run.stdout


def test_an_exercise_is_handed_out_on_paper(reach_here: Run, club: Path, tmp_path: Path) -> None:
    run = reach_here(
        "exercise", club, "--rounds", "3", "--questions", tmp_path / "q.pdf",
        "--answers", tmp_path / "a.html", "--form", tmp_path / "f.csv",
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    assert len(PdfReader(tmp_path / "q.pdf").pages) >= 1
    assert (tmp_path / "a.html").read_text(encoding="utf-8").count("<section>") == 3
    rows = list(csv.DictReader(io.StringIO((tmp_path / "f.csv").read_text(encoding="utf-8"))))
    assert rows and all(row["list"] == "test" and not row["heard"] for row in rows)


def test_served_places_of_the_demo(reach_here: Run, club: Path) -> None:
    run = reach_here("places", club, columns=200)
    assert run.returncode == 0, run.stderr
    assert run.stdout.startswith("5 places: a handheld there gets into the net from ")
    assert "who goes" in reach_here("places", club, "--case", "F", columns=200).stdout


def test_backup_as_json_and_csv_say_the_same(reach_here: Run, club: Path, tmp_path: Path) -> None:
    run = reach_here("backup", club, "--json", tmp_path / "b.json", "--csv", tmp_path / "b.csv")
    assert run.returncode == 0, run.stderr
    answer = json.loads((tmp_path / "b.json").read_text(encoding="utf-8"))["answers"]
    rows = list(csv.DictReader(io.StringIO((tmp_path / "b.csv").read_text(encoding="utf-8"))))
    assert len(rows) == len(answer["cases"]) * 26
    for headline, case in zip(answer["headlines"], answer["cases"], strict=True):
        mine = [row for row in rows if headline.startswith(f"{row['lost']}:")]
        assert {row["station"]: row["part"] for row in mine} == {
            w["call_sign"]: w["part"] for w in case["plan"]["ways"]
        }
    assert any(row["battery_h"] for row in rows)


def test_backup_for_a_named_outage_says_what_would_help(reach_here: Run, club: Path) -> None:
    run = reach_here("backup", club, "--down", "qk3grs", "--no-mains", columns=200)
    assert run.returncode == 0, run.stderr
    assert run.stdout.startswith("Mains lost, QK3GRS absent: ")
    assert "cut off: QK3YEW" in run.stdout.splitlines()[0]  # only QK3GRS works it both ways
    told = " ".join(
        reach_here("backup", club, "--down", "qk3grs", "--no-mains", "--case", "B").stdout.split()
    )
    assert "QK3YEW comes in when it " in told and "roll-up j-pole at 6 m outside" in told


def test_backup_draws_one_map_of_all_cases(reach_here: Run, club: Path, tmp_path: Path) -> None:
    run = reach_here("backup", club, "--no-mains", "--map", tmp_path / "b.html")
    assert run.returncode == 0, run.stderr
    page = (tmp_path / "b.html").read_text(encoding="utf-8")
    assert (
        page.count("data-case=") >= 2
        and "Mains lost: " in page
        and "Off the air without backup power" in page
    )
    assert "default-src 'none'" in html.unescape(page)


def test_a_call_sign_nobody_has_is_refused_with_the_nearest(
    reach_here: Run, club: Path, tmp_path: Path
) -> None:
    run = reach_here("backup", club, "--down", "QK3RX", "--down", "QK9ZZZ", "--json", tmp_path / "x.json")
    assert run.returncode == 2 and not (tmp_path / "x.json").exists()
    assert run.stderr.count("is no member or repeater") == 2 and "did you mean QK3R" in run.stderr
    assert reach_here("kit", club, "QK3AL").stderr.count("did you mean QK3ALD?") == 1


def test_no_backup_power_at_all_is_said_in_clear_words(reach_here: Run, club: Path, tmp_path: Path) -> None:
    folder = rewritten(club, tmp_path / "dark", no_backup)
    run = reach_here("backup", folder, columns=200)
    assert run.returncode == 0, run.stderr
    assert "In E, F: Nobody has backup power: no station is left on the air." in run.stdout
    told = reach_here("backup", folder, "--case", "E", columns=200).stdout
    assert "Mains lost: there is no net" in told and "backup column" in told


def test_a_net_without_repeaters_has_its_simplex_backup(reach_here: Run, club: Path, tmp_path: Path) -> None:
    folder = rewritten(club, tmp_path / "plain", no_repeater)
    run = reach_here("backup", folder, columns=200)
    assert run.returncode == 0, run.stderr
    assert run.stdout.startswith("2 cases: ") and "146.520 simplex" in run.stdout
    assert "QK3RA" not in run.stdout
    assert reach_here("exercise", folder, "--rounds", "3").returncode == 0
    kit = reach_here("kit", folder, "QK3ALD").stdout
    assert "no repeater" not in kit and "146.520" in kit


def test_exercise_is_the_same_again_and_writes_what_it_says(
    reach_here: Run, club: Path, tmp_path: Path
) -> None:
    first = reach_here("exercise", club, "--seed", 5, "--rounds", 6, "--csv", "-").stdout
    again = reach_here("exercise", club, "--seed", 5, "--rounds", 6, "--csv", "-").stdout
    assert first == again and len(list(csv.DictReader(io.StringIO(first)))) == 6
    run = reach_here("exercise", club, "--seed", 5, "--rounds", 6, "--json", tmp_path / "e.json")
    answer = json.loads((tmp_path / "e.json").read_text(encoding="utf-8"))["answers"]
    assert run.stdout.startswith("6 rounds to rehearse.") and answer["headline"] not in run.stdout
    assert [row["lost"] for row in answer["rounds"]] == [
        row["lost"] for row in csv.DictReader(io.StringIO(first))
    ]
    assert reach_here("exercise", club, "--rounds", "0").returncode == 2


def test_kit_writes_a_page_for_each_operator_asked_for(reach_here: Run, club: Path, tmp_path: Path) -> None:
    run = reach_here(
        "kit", club, "QK3MPL", "qk3ald", "QK3MPL", "--pdf", tmp_path / "k.pdf", "--page", tmp_path / "k.html",
        "--text", tmp_path / "k.txt", "--paper", "letter",
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    assert len(PdfReader(tmp_path / "k.pdf").pages) == 2
    text = (tmp_path / "k.txt").read_text(encoding="utf-8")
    assert text.index("QK3MPL  Maple") < text.index("QK3ALD  Alder")
    assert "QK3JUN (relay)" in text
    assert (tmp_path / "k.html").read_text(encoding="utf-8").count("<section>") == text.count("\f") + 1


@pytest.fixture(scope="module")
def demo(club: Path):
    with open_net(club) as opened:
        yield opened, chosen_rules(opened.folder), surveyed(opened, opened.net)


def surveyed(opened: OpenNet, net: Net) -> NetSurvey:
    """A changed net on the same ground."""
    changed = replace(opened, folder=replace(opened.folder, net=net))
    return survey_net(changed, net.channels[0], watch=unwatched)


@pytest.mark.parametrize("gone", ["QK3GRS", "QK3JUN", "QK3RA", "QK3ALD"])
def test_losing_one_is_the_same_as_a_net_surveyed_without_it(demo, gone: str) -> None:
    opened, rules, survey = demo
    net = opened.net
    less = replace(
        net,
        stations=tuple(s for s in net.stations if s.call_sign != gone),
        repeaters=tuple(r for r in net.repeaters if r.call_sign != gone),
    )
    anew = plan_outage(surveyed(opened, less), Outage(), rules)
    plan = plan_outage(survey, asked_outage(net, [gone], mains=Mains.ON), rules)
    assert plan.in_net == anew.in_net and plan.hub == anew.hub
    usual = plan_outage(survey, Outage(), rules)
    points = single_points(survey, (usual,), rules)
    cost = next(p for p in points if p.call_sign == gone).costs[0]
    assert set(cost.loses) == set(usual.in_net) - set(anew.in_net) - {gone}


def test_the_antenna_height_that_joins_a_member_does_when_surveyed_anew(demo) -> None:
    opened, rules, survey = demo
    net = opened.net
    outage = asked_outage(net, ["QK3RA", "QK3RB", "QK3GRS", "QK3JUN"], mains=Mains.ON)
    plan = plan_outage(survey, outage, rules)
    found = remedies(survey, plan, rules, terrain=opened.terrain)
    assert found and all(remedy.height_tried for remedy in found)
    who, height_m = next((r.call_sign, r.height_m) for r in found if r.height_m is not None)

    def joins(at_m: float) -> bool:
        stations = tuple(
            replace(s, antenna=replace(s.antenna, height_m=at_m)) if s.call_sign == who else s
            for s in net.stations
        )
        higher = surveyed(opened, replace(net, stations=stations))
        again = plan_outage(higher, outage, rules)
        return who in again.in_net

    assert joins(height_m) and not joins(height_m - 1.0)
