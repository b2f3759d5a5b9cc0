"""The same command twice gives the same bytes; the minute it was planned stands there only when asked for."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from .conftest import Run

PAPERS = {
    "sheet": ["--date", "2026-12-01", "--page", "a.html", "--pdf", "a.pdf", "--text", "a.txt"],
    "kit": ["QK3CDR", "QK3MPL", "--page", "a.html", "--pdf", "a.pdf", "--text", "a.txt"],
}


@pytest.mark.parametrize("name", PAPERS)
def test_papers(club: Path, tmp_path: Path, name: str) -> None:
    """In processes that hash text differently."""
    found = []
    for seed in ("1", "2"):
        folder = tmp_path / seed
        folder.mkdir()
        subprocess.run(
            [sys.executable, "-m", "reach.commands.main", name, str(club), *PAPERS[name]],
            cwd=folder,
            check=True,
            timeout=300,
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": os.pathsep.join(sys.path)},
        )
        found.append({path.name: path.read_bytes() for path in sorted(folder.iterdir())})
    assert len(found[0]) == 3
    assert [file for file in found[0] if found[0][file] != found[1][file]] == []
    assert b"CreationDate" not in found[0]["a.pdf"] and b"ModDate" not in found[0]["a.pdf"]


@pytest.mark.parametrize("name", PAPERS)
def test_the_minute_only_when_asked(reach_here: Run, club: Path, name: str) -> None:
    calls = PAPERS[name][:1] if name == "kit" else PAPERS[name][:2]
    plain, stamped = (
        " ".join(reach_here(name, club, *calls, *more).stdout.split()) for more in ([], ["--stamp"])
    )
    assert "Planned from club" in plain
    assert re.search(r"Planned 20\d\d-\d\d-\d\d \d\d:\d\d UTC from club", stamped)
