"""The demo club's folder, made once, and the command run as a user runs it."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest

from reach.commands.main import main
from reach.demo.folder import make_demo_folder

Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture(scope="session", autouse=True)
def small_pictures(land_shaped_once: None) -> Iterator[None]:
    """Commands run in this process shape the land once and draw the ground under a map coarsely."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("reach.drawings.maps.ground.LONGEST_SIDE_PIXELS", 240)
        yield


@pytest.fixture(scope="session")
def club(tmp_path_factory: pytest.TempPathFactory, land_shaped_once: None) -> Path:
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
        capfdbinary.readouterr()
        status = _main(monkeypatch, arguments, columns=columns, cwd=cwd)
        sys.stdout.flush()
        out, err = capfdbinary.readouterr()
        return subprocess.CompletedProcess(arguments, status, out.decode("utf-8"), err.decode("utf-8"))

    return run


@pytest.fixture(scope="session")
def reach_once() -> Run:
    """As `reach_here`, for fixtures of several tests; sees what Python writes, not what libraries print."""

    def run(
        *arguments: str | Path, columns: int = 100, cwd: Path | None = None
    ) -> subprocess.CompletedProcess[str]:
        out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8", write_through=True) for _ in range(2))
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(sys, "stdout", out)
            patch.setattr(sys, "stderr", err)
            status = _main(patch, arguments, columns=columns, cwd=cwd)
        texts = [stream.detach().getvalue().decode("utf-8") for stream in (out, err)]
        return subprocess.CompletedProcess(arguments, status, *texts)

    return run


def _main(
    patch: pytest.MonkeyPatch, arguments: Sequence[str | Path], *, columns: int, cwd: Path | None
) -> int:
    patch.setenv("COLUMNS", str(columns))
    patch.setattr(sys, "argv", ["reach", *map(str, arguments)])
    if cwd is not None:
        patch.chdir(cwd)
    with pytest.raises(SystemExit) as stopped:
        main()
    return int(stopped.value.code or 0)


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
