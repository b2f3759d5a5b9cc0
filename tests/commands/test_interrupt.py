"""Ctrl-C: the command says so, ends with 130 and leaves nothing half-written."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

pytestmark = pytest.mark.skipif(os.name == "nt", reason="signals are sent the POSIX way")


@pytest.fixture(scope="module")
def large_net(club: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """200 invented members on the demo's land: several seconds of computing."""
    folder = tmp_path_factory.mktemp("large")
    terrain = f"folders = ['{club / 'terrain'}']"
    text = (club / "net.toml").read_text(encoding="utf-8").replace('folders = ["terrain"]', terrain)
    assert terrain in text
    (folder / "net.toml").write_text(text, encoding="utf-8")
    places = np.random.default_rng(11).uniform((41.05, -38.45), (41.70, -37.55), (200, 2))
    rows = [f"QK{i:03d}A,base,{lat:.4f},{lon:.4f},yes" for i, (lat, lon) in enumerate(places)]
    (folder / "roster.csv").write_text(
        "call_sign,category,latitude,longitude,control\n" + "\n".join(rows) + "\n", encoding="utf-8"
    )
    return folder


def interrupted(
    *arguments: str | Path, cwd: Path, after_s: float, begun: str = ""
) -> subprocess.CompletedProcess[str]:
    """Ctrl-C after a while; begun : a pattern of files, the while counts from when there is one."""
    process = subprocess.Popen(
        [sys.executable, "-c", "from reach.commands.main import main; main()", *map(str, arguments)],
        cwd=cwd,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    while begun and process.poll() is None and not any(cwd.glob(begun)):
        time.sleep(0.02)
    time.sleep(after_s)
    assert process.poll() is None, "it was done before it could be interrupted"
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=10.0)  # two seconds, and what a busy machine adds
    return subprocess.CompletedProcess(arguments, process.returncode, out, err)


@pytest.mark.parametrize("after_s", [0.8, 1.5])
def test_planning_stopped(large_net: Path, tmp_path: Path, after_s: float) -> None:
    (tmp_path / "old.json").write_text("mine", encoding="utf-8")
    run = interrupted(
        "simplex", large_net, "--map", "map.html", "--json", "old.json", "--replace",
        cwd=tmp_path, after_s=after_s,
    )  # fmt: skip
    assert (run.returncode, run.stdout) == (130, "")
    assert run.stderr.strip() == "stopped; nothing half-written is left."
    assert os.listdir(tmp_path) == ["old.json"]
    assert (tmp_path / "old.json").read_text(encoding="utf-8") == "mine"


def test_a_starter_folder_stopped_is_not_there(tmp_path: Path) -> None:
    run = interrupted("new", "net", cwd=tmp_path, after_s=0.3, begun=".reach-*/starter/terrain")
    assert run.returncode == 130 and "Traceback" not in run.stderr
    assert os.listdir(tmp_path) == []


def test_a_demo_stopped_leaves_whole_files_only(club: Path, tmp_path: Path) -> None:
    run = interrupted("demo", cwd=tmp_path, after_s=0.3, begun="reach-demo/terrain")
    assert run.returncode == 130 and "Traceback" not in run.stderr
    left = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert all(
        path.read_bytes() == (club / path.relative_to(tmp_path / "reach-demo")).read_bytes() for path in left
    )
    shutil.rmtree(tmp_path / "reach-demo", ignore_errors=True)
    assert os.listdir(tmp_path) == []
