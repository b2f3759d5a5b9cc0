"""Whose data the tiles are: lines of a small text file beside them, shown on every map drawn from them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

CREDITS_FILE = "credits.txt"
_HEADING = "# Whose data the tiles here are. Every line is shown on each map; lines with # are not."
_LONGEST, _MOST = 400, 20


def credits_in(folders: Sequence[str | Path]) -> tuple[str, ...]:
    """Every credit beside the rasters below these folders, each once, at most twenty of 400 characters.

    A file that is no text gives none.
    """
    found: dict[str, None] = {}
    for folder in map(Path, folders):
        files = sorted(folder.rglob(CREDITS_FILE)) if folder.is_dir() else [folder.parent / CREDITS_FILE]
        for file in files:
            found |= dict.fromkeys(_lines(file))
    return tuple(found)[:_MOST]


def with_credit(file: Path, credit: str) -> str:
    """The text of a credits file with one line more, where it is not there yet."""
    lines = _lines(file)
    return "\n".join([_HEADING, *lines, *([credit] if credit not in lines else [])]) + "\n"


def _lines(file: Path) -> list[str]:
    try:
        text = file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return []
    lines = ("".join(c for c in line if c.isprintable()).strip()[:_LONGEST] for line in text.splitlines())
    return [line for line in lines if line and not line.startswith("#")]
