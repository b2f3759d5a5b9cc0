"""Compiled loops are kept where they can be: package, user's cache, private temporary files, nowhere."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

import reach
from reach.machinery.compiled import private_temporary_folder

pytestmark = pytest.mark.skipif(os.name == "nt", reason="folders are blocked the POSIX way")

SCRIPT = """
import numpy as np
from reach.terrain._sampling_kernel import path_points
from reach.machinery.compiled import compiled_before

def call():
    start, one, two = np.array([0, 3]), np.zeros(1, dtype=np.int64), np.full(1, 2)
    lat, lon = np.array([41.0, 43.0]), np.array([-38.0, -38.0])
    out = np.empty(3), np.empty(3), np.empty(3)
    path_points(0, 1, start, np.full(1, 9.0), one, two, lat, lon, *out)
    return int(out[1][1])  # half way

before = compiled_before(path_points)
print(call(), before, getattr(path_points._cache, "cache_path", None))
"""


@pytest.fixture
def package(tmp_path: Path) -> Path:
    """A copy of the package in which no __pycache__ can be made."""
    source = Path(reach.__file__).parent
    shutil.copytree(source, tmp_path / "site" / "reach", ignore=shutil.ignore_patterns("__pycache__"))
    for folder in [tmp_path / "site" / "reach", *(tmp_path / "site" / "reach").rglob("*")]:
        if folder.is_dir():
            (folder / "__pycache__").write_text("no folder", encoding="utf-8")
    return tmp_path / "site"


def run(package: Path, tmp_path: Path, **environment: str) -> tuple[list[str], str]:
    clean = {
        k: v for k, v in os.environ.items() if not k.startswith(("NUMBA", "XDG", "PYTHON", "HOME", "TMP"))
    }
    done = subprocess.run(
        [sys.executable, "-B", "-c", SCRIPT],
        env=clean | {"PYTHONPATH": str(package)} | environment,
        cwd=tmp_path, capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return done.stdout.split(), done.stderr


def test_the_users_cache_when_the_package_cannot_be_written(package: Path, tmp_path: Path) -> None:
    home, temporary = tmp_path / "home", tmp_path / "tmp"
    home.mkdir()
    temporary.mkdir()
    runs = [run(package, tmp_path, HOME=str(home), TMPDIR=str(temporary))[0] for _ in range(2)]
    assert runs[0][1] == "False" and runs[1][1] == "True"
    assert all(str(home) in r[2] for r in runs)


def test_private_temporary_files_without_a_home(package: Path, tmp_path: Path) -> None:
    temporary = tmp_path / "tmp"
    temporary.mkdir()
    runs = [run(package, tmp_path, HOME="/dev/null", TMPDIR=str(temporary))[0] for _ in range(2)]
    assert runs[0][1] == "False" and runs[1][1] == "True"
    (kept,) = temporary.iterdir()
    assert kept.name.startswith("reach-compiled-") and kept.stat().st_mode & 0o077 == 0
    assert all(str(kept) in r[2] for r in runs)


@pytest.mark.parametrize("taken", ["a file", "open to others", "a link"])
def test_a_temporary_folder_others_could_fill_is_not_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, taken: str
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    folder = tmp_path / f"reach-compiled-{os.getuid()}"
    if taken == "a file":
        folder.write_text("x", encoding="utf-8")
    elif taken == "a link":
        (tmp_path / "elsewhere").mkdir(mode=0o700)
        folder.symlink_to(tmp_path / "elsewhere")
    else:
        folder.mkdir()
        folder.chmod(0o777)
    assert private_temporary_folder.__wrapped__() is None


def test_nowhere_then_in_memory(package: Path, tmp_path: Path) -> None:
    (tmp_path / f"reach-compiled-{os.getuid()}").write_text("taken", encoding="utf-8")
    (_, before, path), err = run(package, tmp_path, HOME="/dev/null", TMPDIR=str(tmp_path))
    assert (before, path, err) == ("False", "None", "")


def test_a_damaged_cache_is_none_and_heals(package: Path, tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    first, _ = run(package, tmp_path, HOME=str(home), TMPDIR=str(tmp_path))
    files = [path for path in home.rglob("*") if path.suffix in (".nbi", ".nbc")]
    assert len(files) == 2
    for path in files:
        path.write_bytes(path.read_bytes()[:20])
    again, err = run(package, tmp_path, HOME=str(home), TMPDIR=str(tmp_path))
    assert again[0] == first[0] and err == ""
    healed, _ = run(package, tmp_path, HOME=str(home), TMPDIR=str(tmp_path))
    assert healed[1] == "True"
