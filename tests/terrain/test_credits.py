"""Whose data the tiles are."""

from __future__ import annotations

from pathlib import Path

from reach.terrain.credits import CREDITS_FILE, credits_in, with_credit


def test_every_credit_once_from_all_folders(tmp_path: Path) -> None:
    for name, text in (("a", "# note\nSurvey of A\n\n"), ("a/deep", "Survey of B\nSurvey of A\n")):
        (tmp_path / name).mkdir(exist_ok=True)
        (tmp_path / name / CREDITS_FILE).write_text(text, encoding="utf-8")
    assert credits_in([tmp_path / "a", tmp_path / "none"]) == ("Survey of A", "Survey of B")


def test_a_credit_is_added_once(tmp_path: Path) -> None:
    file = tmp_path / CREDITS_FILE
    file.write_text(with_credit(file, "Survey of A"), encoding="utf-8")
    file.write_text(with_credit(file, "Survey of B"), encoding="utf-8")
    assert with_credit(file, "Survey of A") == file.read_text(encoding="utf-8")
    assert credits_in([tmp_path]) == ("Survey of A", "Survey of B")


def test_what_is_no_text_gives_none_and_nothing_runs_on(tmp_path: Path) -> None:
    (tmp_path / CREDITS_FILE).write_bytes(b"\xff\xfe\x00\x80")
    assert credits_in([tmp_path]) == ()
    (tmp_path / CREDITS_FILE).write_text(
        "\n".join(f"{n} " + "x" * 5000 for n in range(100)), encoding="utf-8"
    )
    found = credits_in([tmp_path])
    assert len(found) == 20
    assert all(len(line) <= 400 for line in found)
