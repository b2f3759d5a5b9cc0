"""`reach new` as a user runs it: what it makes is checked and planned as it is."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from reach.commands.main import main


def run(monkeypatch: pytest.MonkeyPatch, *arguments: object) -> int:
    monkeypatch.setattr(sys, "argv", ["reach", *map(str, arguments)])
    with pytest.raises(SystemExit) as end:
        main()
    return int(end.value.code or 0)


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("clubs") / "evening net"
    with pytest.MonkeyPatch.context() as patch:
        assert run(patch, "new", folder) == 0
    return folder


def test_it_says_what_to_do_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "our net"
    assert run(monkeypatch, "new", folder) == 0
    first, look, plan, *_ = capsys.readouterr().out.splitlines()
    assert first.startswith(f"{folder} is ready: 9 invented members on ")
    assert look.endswith(f'reach check "{folder}"') and plan.endswith(f'reach simplex "{folder}"')


def test_check_is_content_with_it(
    starter: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(monkeypatch, "check", starter) == 0
    assert "is ready to plan: 9 members, 1 repeater" in capsys.readouterr().out.splitlines()[0]


def test_it_is_planned_as_it_is(
    starter: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(monkeypatch, "simplex", starter) == 0
    assert "as net control works" in capsys.readouterr().out.splitlines()[0]
    assert run(monkeypatch, "repeater", starter) == 0
    assert "QK3RPT/R" in capsys.readouterr().out.splitlines()[0]


def test_a_folder_with_something_in_it_is_refused_and_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "mine.txt").write_text("keep", encoding="utf-8")
    assert run(monkeypatch, "new", tmp_path) == 2
    said = capsys.readouterr()
    assert "already holds files; choose a new folder" in said.err and not said.out
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
