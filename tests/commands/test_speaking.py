"""What a person reads: hostile text is shown and never obeyed; broken streams and odd surroundings end in one
clear line."""

from __future__ import annotations

import ast
import json
import os
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import click
import pytest

from reach.commands.main import COMMANDS
from reach.commands.options import CHANCE, DAY, HOW_MANY_NETS, ROUNDS, SEED, SHARE
from reach.visible import shortened_words, visible, visible_lines

from .conftest import Run

HOSTILE = "\x1b[31mred\x1b]0;title\x07\u202e\x9b5m\x08"
SHOWN = "\\x1b[31mred"
STEERING = set("\x1b\x07\x08\x9b\u202e\r")
COMMANDS_FOLDER = Path(__file__).resolve().parents[2] / "reach" / "commands"
MANY = "9" * 5000


def is_harmless(run: subprocess.CompletedProcess[str]) -> None:
    assert not STEERING & set(run.stdout + run.stderr), (run.stdout, run.stderr)
    assert "Traceback" not in run.stderr


def edited(old: str, new: str, file: str = "net.toml") -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        path = folder / file
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new, 1), encoding="utf-8")

    return change


def appended(text: str, file: str) -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        with (folder / file).open("a", encoding="utf-8") as out:
            out.write(text)

    return change


def tile(name: str) -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        (folder / "terrain" / name).write_bytes(b"not a raster")

    return change


def zipped(folder: Path) -> None:
    with zipfile.ZipFile(folder / "terrain" / "n41w039.hgt.zip", "w") as archive:
        archive.writestr(f"{HOSTILE}.hgt", b"not a raster")


def geojson(folder: Path) -> None:
    (folder / "area.geojson").write_text(json.dumps({"type": HOSTILE, "name": HOSTILE}), encoding="utf-8")


FOLDERS: dict[str, tuple[Callable[[Path], None] | None, list[str]]] = {
    "broken line of net.toml": (appended(f"\n{HOSTILE} = \n", "net.toml"), ["check"]),
    "unknown key": (edited("[net]", '[net]\n"\\u001b[31mred\\u202e" = 1'), ["check"]),
    "model": (edited("[net]", '[net]\nmodel = "\\u001b[31mred\\u202e"'), ["check"]),
    "call sign": (edited("QK3CDR,", f"QK3{HOSTILE},", "roster.csv"), ["check"]),
    "roster heading": (edited("call", f"{HOSTILE},call", "roster.csv"), ["check"]),
    "tile name": (tile(f"{HOSTILE.replace('/', '')}.tif"), ["check"]),
    "zip member": (zipped, ["check"]),
    "channel option": (None, ["simplex", "--channel", HOSTILE]),
    "control option": (None, ["simplex", "--control", HOSTILE]),
    "call sign as typed": (None, ["path", HOSTILE, HOSTILE]),
    "what-if": (None, ["relays", "--what-if", HOSTILE]),
    "search area": (geojson, ["sites", "--inside", "area.geojson"]),
    "length": (None, ["area", "QK3RA", "--radius", HOSTILE]),
    "script": (lambda folder: (folder / "script.txt").write_text(f"[{HOSTILE}]\n[x"), ["sheet"]),
    "output file": (None, ["simplex", "--csv", f"{HOSTILE}/x.csv"]),
}


@pytest.mark.parametrize("case", FOLDERS)
def test_hostile_text_is_shown_and_never_obeyed(
    reach_here: Run, club: Path, tmp_path: Path, case: str
) -> None:
    change, (command, *arguments) = FOLDERS[case]
    folder = tmp_path / "club"
    shutil.copytree(club, folder)
    if change is not None:
        change(folder)
    run = reach_here(command, folder, *arguments, cwd=folder)
    is_harmless(run)
    assert "red" in run.stdout + run.stderr or case in {
        "zip member",
        "script",
        "search area",
    }  # not quoted in full there
    assert run.returncode == (0 if case == "unknown key" else 2)  # a key nobody reads is a warning


@pytest.mark.parametrize("arguments", [[HOSTILE], ["check", HOSTILE], ["check", f"--{HOSTILE}"], *(
    [command, HOSTILE, f"--{HOSTILE}"] for command in COMMANDS
)])  # fmt: skip
def test_hostile_arguments(reach_here: Run, arguments: list[str]) -> None:
    run = reach_here(*arguments)
    is_harmless(run)
    assert run.returncode == 2 and SHOWN in run.stderr
    assert len(run.stderr.splitlines()) == 1


def test_only_the_writer_writes() -> None:
    """Nothing in the package prints by another way than reach/commands/speaking.py."""
    for path in COMMANDS_FOLDER.parent.rglob("*.py"):
        if path.name == "speaking.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Attribute):
                continue
            written = ast.unparse(node)
            assert written not in {"click.echo", "click.secho", "sys.stdout.write", "sys.stderr.write"}, (
                f"{path}:{node.lineno}: speak, say and warn are in reach/commands/speaking.py"
            )


ODD_OPTIONS = [
    ["relays", "--chance", "nan"], ["relays", "--chance", "inf"], ["relays", "--chance", "-1"],
    ["relays", "--chance", MANY], ["relays", "--seed", "-1"], ["relays", "--seed", MANY],
    ["relays", "--evenings", MANY], ["relays", "--longest-chain", MANY], ["exercise", "--seed", "-1"],
    ["exercise", "--rounds", "-5"], ["exercise", "--rounds", MANY], ["control", "--nets", "-5"],
    ["control", "--nets", "0"], ["control", "--nets", MANY], ["control", "--fit", "nan"],
    ["control", "--from", "9999-12-31"], ["control", "--until", "0001-01-01"],
    ["sheet", "--date", "9999-12-31"],
]  # fmt: skip


@pytest.mark.parametrize("arguments", ODD_OPTIONS, ids=lambda a: " ".join(a)[:40])
def test_odd_numbers_are_refused_in_one_line(reach_here: Run, club: Path, arguments: list[str]) -> None:
    run = reach_here(arguments[0], club, *arguments[1:])
    assert run.returncode == 2
    assert len(run.stderr.splitlines()) == 1 and len(run.stderr) < 500
    assert arguments[1] in run.stderr


@pytest.mark.parametrize("kind", [CHANCE, DAY, HOW_MANY_NETS, ROUNDS, SEED, SHARE])
def test_types_of_options(kind: click.ParamType) -> None:
    for text in ("nan", "inf", "-inf", MANY, "", "1e400", "10000-01-01", "\x1b"):
        with pytest.raises(click.BadParameter):
            kind.convert(text, None, None)
    assert SHARE.convert("1", None, None) == 1.0
    assert DAY.convert("2026-12-01", None, None).day == 1


def in_a_shell(line: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """REACH in the line is the command; bytes, as some streams take no UTF-8."""
    command = f"'{sys.executable}' -m reach.commands.main"
    return subprocess.run(
        ["bash", "-c", line.replace("REACH", command)],
        capture_output=True,
        timeout=120,
        env={**os.environ, **environment},
    )


SURROUNDINGS: dict[str, tuple[str, dict[str, str], int]] = {
    "reader ends": ("REACH --help | head -1; exit ${PIPESTATUS[0]}", {}, 0),
    "no reader": ("REACH --help | true; exit ${PIPESTATUS[0]}", {}, 0),
    "no reader of text": ("REACH selfcheck | true; exit ${PIPESTATUS[0]}", {}, 0),
    "closed output": ("REACH selfcheck >&-", {}, 2),
    "closed errors": ("REACH nonsense 2>&-", {}, 2),
    "full": ("REACH selfcheck > /dev/full", {}, 2),
    "full for help": ("REACH --help > /dev/full", {}, 2),
    "full for JSON": ("REACH selfcheck --json - > /dev/full", {}, 2),
    "huge columns": ("REACH selfcheck", {"COLUMNS": MANY, "LINES": MANY}, 0),
    "odd columns": ("REACH selfcheck", {"COLUMNS": "²", "LINES": "-3"}, 0),
    "plain C": ("REACH selfcheck", {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}, 0),
    "a name that is no UTF-8": ("REACH check $'/tmp/\\xff\\x1b[31m'", {"LC_ALL": "C"}, 2),
    "the same in UTF-8": ("REACH check $'/tmp/\\xff\\x1b[31m'", {"PYTHONUTF8": "1"}, 2),
}


@pytest.mark.parametrize("name", SURROUNDINGS)
def test_odd_surroundings_end_in_one_line(name: str) -> None:
    line, environment, code = SURROUNDINGS[name]
    run = in_a_shell(line, **environment)
    assert run.returncode == code, run.stderr
    assert b"Traceback" not in run.stderr and b"\x1b" not in run.stderr + run.stdout
    assert len(run.stderr.splitlines()) == (1 if code and name != "closed errors" else 0), run.stderr


def test_steering_characters_are_written_out() -> None:
    assert visible("a\x1b\u202e\x9b\udcff\n\U000e0041") == "a\\x1b\\u202e\\x9b\\xff\\x0a\\U000e0041"
    assert visible("Ünïcode Ω 東") == "Ünïcode Ω 東"
    assert visible_lines("a\r\nb\x07") == "a\nb\\x07"
    assert shortened_words(f"x {MANY} y") == f"x {'9' * 60}…{'9' * 60} (5,000 characters) y"
