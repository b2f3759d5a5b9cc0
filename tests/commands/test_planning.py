"""relays, control and sheet as a user runs them: on the invented club, and with what goes wrong."""

from __future__ import annotations

import csv
import io
import json
import shutil
import subprocess
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from icalendar import Calendar
from pypdf import PdfReader

Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def own_club(
    club: Path, tmp_path: Path
) -> Callable[[Callable[[list[dict[str, str]]], Sequence[dict[str, str]]]], Path]:
    """A copy of the club with its roster changed; the terrain stays where it is."""

    def made(change: Callable[[list[dict[str, str]]], Sequence[dict[str, str]]]) -> Path:
        folder = tmp_path / "own"
        folder.mkdir()
        shutil.copy(club / "net.toml", folder)
        (folder / "terrain").symlink_to(club / "terrain", target_is_directory=True)
        with open(club / "roster.csv", encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        changed = change(rows)
        with open(folder / "roster.csv", "w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, rows[0].keys())
            writer.writeheader()
            writer.writerows(changed)
        return folder

    return made


def test_relays_for_people_and_machines(reach_here: Run, club: Path) -> None:
    told = reach_here("relays", club)
    assert told.returncode == 0, told.stderr
    assert "as net control works" in told.stdout.splitlines()[0]
    assert "check-ins with the relays" in told.stdout
    assert "every step is proven best" in told.stdout
    assert "emergency number first" in told.stdout
    plan = json.loads(reach_here("relays", club, "--json", "-").stdout)["answers"]["plan"]
    rows = list(csv.DictReader(io.StringIO(reach_here("relays", club, "--csv", "-").stdout)))
    assert {row["station"] for row in rows if row["part"] == "relay"} == {
        r["call_sign"] for r in plan["relays"]
    }
    assert len(rows) == len({row["station"] for row in rows})
    for duty in plan["relays"]:
        assert duty["call_sign"] in told.stdout


def test_a_what_if_tells_only_the_difference(reach_here: Run, club: Path) -> None:
    plan = json.loads(reach_here("relays", club, "--json", "-").stdout)["answers"]["plan"]
    relay = plan["relays"][0]["call_sign"]
    told = reach_here("relays", club, "--what-if", f"without {relay}")
    assert told.returncode == 0, told.stderr
    assert f"{relay} is not in the net." in told.stdout
    assert f"{relay} no longer relays." in told.stdout
    untouched = next(call for call in plan["direct"] if call not in told.stdout)
    assert untouched  # who is not affected is not listed
    same = reach_here("relays", club, "--what-if", f"{plan['control']} control yes")
    assert "Nothing changes: the plan is the same." in same.stdout


def test_control_with_a_rota(reach_here: Run, club: Path, tmp_path: Path) -> None:
    file = tmp_path / "rota.ics"
    told = reach_here("control", club, "--from", "2026-12-01", "--nets", "6", "--calendar", file)
    assert told.returncode == 0, told.stderr
    assert "Rota" in told.stdout
    assert "not in the rota, as they hear less than 80% of what the best hears (--fit): QK3LRC." in " ".join(
        told.stdout.split()
    )
    events = [c for c in Calendar.from_ical(file.read_bytes()).walk() if c.name == "VEVENT"]
    assert len(events) == 6
    rows = list(
        csv.DictReader(io.StringIO(reach_here("control", club, "--from", "2026-12-01", "--csv", "-").stdout))
    )
    assert len(rows) == 8
    again = reach_here("control", club, "--from", "2026-12-01", "--calendar", file)
    assert again.returncode == 2
    assert "--replace" in again.stderr


def test_the_sheet_in_every_form(reach_here: Run, club: Path, tmp_path: Path) -> None:
    page, pdf, text = (tmp_path / f"sheet.{kind}" for kind in ("html", "pdf", "txt"))
    told = reach_here("sheet", club, "--date", "2026-12-01", "--page", page, "--pdf", pdf, "--text", text)
    assert told.returncode == 0, told.stderr
    assert told.stdout == ""
    (only,) = PdfReader(pdf).pages
    assert "2026-12-01" in only.extract_text()
    assert "Before leaving the repeater" in text.read_text("utf-8")
    assert "<script" not in page.read_text("utf-8")
    assert "[ ] " in reach_here("sheet", club).stdout


def test_own_words(reach_here: Run, own_club: Callable[..., Path]) -> None:
    folder = own_club(lambda rows: rows)
    assert reach_here("sheet", folder, "--own-words").returncode == 0
    script = folder / "script.txt"
    script.write_text(script.read_text("utf-8").replace("Hello to all stations.", "Evening, all."), "utf-8")
    assert "Opening: Evening, all." in reach_here("sheet", folder).stdout
    script.write_text(script.read_text("utf-8").replace("{{ net_name }}", "{{ net }}"), "utf-8")
    wrong = reach_here("sheet", folder)
    assert wrong.returncode == 2
    assert "script.txt, row" in wrong.stderr
    assert "'net' is undefined" in wrong.stderr


def willing(rows: list[dict[str, str]], column: str, calls: set[str]) -> list[dict[str, str]]:
    return [{**row, column: "yes" if row["call sign"] in calls else "no"} for row in rows]


@pytest.mark.parametrize("command", ["relays", "control", "sheet"])
def test_nobody_willing_to_control(
    reach_here: Run, own_club: Callable[..., Path], command: str, tmp_path: Path
) -> None:
    told = reach_here(command, own_club(lambda rows: willing(rows, "control", set())), cwd=tmp_path)
    assert told.returncode == 2
    assert told.stdout == ""
    assert told.stderr.startswith("nobody on the air is willing to be net control; ")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["own"]


def test_one_station(reach_here: Run, own_club: Callable[..., Path]) -> None:
    told = reach_here("relays", own_club(lambda rows: rows[:1]))
    assert (told.returncode, told.stdout) == (2, "")
    assert "only one station (QK3ALD) has a radio path; a net needs two" in told.stderr


@pytest.mark.parametrize("command", ["relays", "sheet", "simplex"])
def test_a_net_control_without_a_radio_path(reach_here: Run, club: Path, command: str) -> None:
    with open(club / "roster.csv", encoding="utf-8", newline="") as file:
        linked = next(row["call sign"] for row in csv.DictReader(file) if row["category"] == "internet")
    told = reach_here(command, club, "--control", linked)
    assert (told.returncode, told.stdout) == (2, "")
    assert told.stderr.startswith(f"{linked} has no radio path (it is linked over the internet)")


def test_a_what_if_that_takes_net_control_away(reach_here: Run, club: Path) -> None:
    told = reach_here("relays", club, "--control", "QK3ELM", "--what-if", "without QK3ELM")
    assert (told.returncode, told.stdout) == (2, "")
    assert told.stderr.startswith("--control: the change leaves QK3ELM out of the net; name another")


def test_a_rota_at_the_end_of_the_calendar(reach_here: Run, club: Path, tmp_path: Path) -> None:
    file = tmp_path / "rota.ics"
    told = reach_here("control", club, "--from", "9999-12-31", "--calendar", file)
    assert (told.returncode, told.stdout) == (2, "")
    assert "9999-12-31 is not between the years 1900 and 2200" in told.stderr
    assert not file.exists()


def test_a_duplicate_call_sign(reach_here: Run, own_club: Callable[..., Path]) -> None:
    told = reach_here("relays", own_club(lambda rows: [*rows, rows[0]]))
    assert (told.returncode, told.stdout) == (2, "")
    assert "roster.csv, row" in told.stderr


def test_an_unknown_call_sign_gets_the_nearest_spelling(reach_here: Run, club: Path) -> None:
    for arguments in (("--control", "QK3EL"), ("--what-if", "without QK3EL")):
        told = reach_here("relays", club, *arguments)
        assert (told.returncode, told.stdout) == (2, "")
        assert "did you mean QK3ELM?" in told.stderr


def test_a_rota_without_dates_writes_nothing(reach_here: Run, club: Path, tmp_path: Path) -> None:
    file = tmp_path / "rota.ics"
    told = reach_here("control", club, "--from", "2026-12-01", "--until", "2026-11-01", "--calendar", file)
    assert (told.returncode, told.stdout) == (2, "")
    assert "the schedule gives no net from 2026-12-01 to 2026-11-01" in told.stderr
    assert not file.exists()


def test_a_threshold_is_given_once(reach_here: Run, club: Path) -> None:
    told = reach_here("relays", club, "--readability", "4", "--chance", "0.8")
    assert told.returncode == 2
    assert "--readability and --chance both set the threshold" in told.stderr


def test_two_isolated_halves(reach_here: Run, own_club: Callable[..., Path]) -> None:
    """Members pulled apart into two clusters out of each other's reach: in clear words, with exit code 2."""

    def pulled_apart(rows: list[dict[str, str]]) -> list[dict[str, str]]:
        base = [row for row in rows if row["category"] == "base"][:8]
        west, east = ("41.3820", "-38.1750"), ("41.7400", "-37.5100")
        return [
            {
                **row,
                "latitude": place[0],
                "longitude": f"{float(place[1]) - 0.001 * number:.4f}",
                "control": "yes",
            }
            | {"antenna height m": "2", "power W": "0.1", "antenna": "isotropic"}
            for number, row in enumerate(base)
            for place in (west if number % 2 else east,)
        ]

    told = reach_here("relays", own_club(pulled_apart))
    assert (told.returncode, told.stdout) == (2, "")
    assert "the net falls into parts that cannot work each other: (" in told.stderr
    assert "separate nets under" in told.stderr


def test_who_hears_whom_is_shown_where_no_plan_can_be_made(
    reach_here: Run, own_club: Callable[..., Path], tmp_path: Path
) -> None:
    folder = own_club(lambda rows: willing(rows, "control", set()))
    map_file = tmp_path / "map.html"
    told = reach_here("simplex", folder)
    assert told.returncode == 0
    assert told.stdout.startswith("Nobody on the air is willing to be net control; ")
    assert "hears" in told.stdout
    assert reach_here("simplex", folder, "--map", map_file).returncode == 0
    assert "Nobody on the air is willing" in map_file.read_text("utf-8")
    answers = json.loads(reach_here("simplex", folder, "--json", "-").stdout)["answers"]
    assert answers["plan"] is None
    assert len(answers["links"]) > 20
    named = reach_here("simplex", folder, "--control", "QK3ELM")
    assert (named.returncode, named.stdout) == (2, "")
    assert "nobody on the air is willing to be net control" in named.stderr


SEVERAL_NETS = """[[nets]]
name = "Tuesday net"
weekday = "tuesday"
start = "19:30"
channel = "146.520 MHz"

[[nets]]
name = "Sunday net"
weekday = "sunday"
start = "09:00"
channel = "446.0"
repeater = "QK3RB"
"""


def test_one_of_several_nets_wherever_its_channel_or_repeater_counts(
    reach_here: Run, own_club: Callable[..., Path]
) -> None:
    folder = own_club(lambda rows: rows)
    text = (folder / "net.toml").read_text("utf-8")
    before, after = text.split("[schedule]")
    following = after.find("\n[")
    rest = after[following:] if following >= 0 else ""
    (folder / "net.toml").write_text(before + SEVERAL_NETS + rest, "utf-8")
    own = reach_here("repeater", folder, "--net", "sunday net")
    assert own.returncode == 0, own.stderr
    assert "get into QK3RB" in own.stdout and "QK3RA" not in own.stdout
    none = reach_here("repeater", folder, "--net", "Tuesday net")
    assert none.returncode == 2 and "meets on two metres, not on a repeater" in none.stderr
    for net, mhz in (("Tuesday net", "146.52"), ("Sunday net", "446")):
        told = reach_here("path", folder, "QK3ALD", "QK3HOL", "--net", net)
        assert told.returncode == 0, told.stderr
        assert f"on {mhz} MHz" in told.stdout
    named = reach_here("path", folder, "QK3ALD", "QK3HOL", "--channel", "446.000 MHz")
    assert "on 446 MHz" in named.stdout
