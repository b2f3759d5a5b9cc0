"""The demo club's folder, made once, and the command run as a user runs it."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from reach.commands.main import main
from reach.demo.folder import make_demo_folder

Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture(scope="session")
def club(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A net folder with the invented club on its terrain; tests only read it."""
    folder = tmp_path_factory.mktemp("club")
    make_demo_folder(folder)
    return folder


@pytest.fixture
def reach_here(monkeypatch: pytest.MonkeyPatch, capfdbinary: pytest.CaptureFixture[bytes]) -> Run:
    """The same command in this process: as good for results and far quicker to start."""

    def run(
        *arguments: str | Path, columns: int = 100, cwd: Path | None = None
    ) -> subprocess.CompletedProcess[str]:
        monkeypatch.setenv("COLUMNS", str(columns))
        monkeypatch.setattr(sys, "argv", ["reach", *map(str, arguments)])
        if cwd is not None:
            monkeypatch.chdir(cwd)
        capfdbinary.readouterr()
        with pytest.raises(SystemExit) as stopped:
            main()
        sys.stdout.flush()
        out, err = capfdbinary.readouterr()
        return subprocess.CompletedProcess(
            arguments, int(stopped.value.code or 0), out.decode("utf-8"), err.decode("utf-8")
        )

    return run


@pytest.fixture(scope="session")
def reach() -> Run:
    """`reach(*arguments, columns=100)` in a process of its own."""

    def run(
        *arguments: str | Path, columns: int = 100, cwd: Path | None = None
    ) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "reach.commands.main", *map(str, arguments)],
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=300,
            cwd=cwd,
            env={**os.environ, "COLUMNS": str(columns), "PYTHONIOENCODING": "utf-8"},
        )

    return run
