"""Killed or interrupted at any moment: whole files only, the right status, nobody else's files touched.

More moments: REACH_KILLS=100 pytest tests/hostile/test_kills.py.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from reach.files import temporary_name

pytestmark = pytest.mark.skipif(os.name == "nt", reason="signals are sent the POSIX way")

MOMENTS = int(os.environ.get("REACH_KILLS", "3"))
COMMAND = [sys.executable, "-c", "from reach.commands.main import main; main()"]
WRITER = """
import sys
from pathlib import Path
from reach.files import Existing, write_bytes
for number in range(100000):
    write_bytes(Path(sys.argv[1]), bytes([number % 250 + 1]) * 300_000, Existing.REPLACE)
"""


@pytest.fixture(scope="module")
def net(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Forty members on a plain: a few seconds of computing and compiling."""
    folder = tmp_path_factory.mktemp("net")
    (folder / "terrain").mkdir()
    with rasterio.open(
        folder / "terrain" / "a.tif", "w", driver="GTiff", width=600, height=600, count=1, dtype="int16",
        crs="EPSG:4326", transform=from_origin(-72.0, 42.0, 1 / 600, 1 / 600),
    ) as data:  # fmt: skip
        data.write(np.full((600, 600), 100, dtype="int16"), 1)
        data.set_band_unit(1, "m")
    (folder / "net.toml").write_text("[[channels]]\nfrequency_mhz = 146.52\n", encoding="utf-8")
    places = np.random.default_rng(3).uniform((41.1, -71.9), (41.9, -71.1), (40, 2))
    rows = [f"QK{i:03d}A,base,{lat:.4f},{lon:.4f},yes" for i, (lat, lon) in enumerate(places)]
    text = "call_sign,category,latitude,longitude,control\n" + "\n".join(rows) + "\n"
    (folder / "roster.csv").write_text(text, encoding="utf-8")
    return folder


def test_a_writer_killed_leaves_the_old_file_or_the_new(tmp_path: Path) -> None:
    target = tmp_path / "a.bin"
    others = temporary_name().replace(f"-{os.getpid()}-", f"-{os.getppid()}-")
    (tmp_path / others).write_text("someone else's", encoding="utf-8")
    for moment in range(MOMENTS):
        process = subprocess.Popen([sys.executable, "-c", WRITER, str(target)])
        while not target.exists() and process.poll() is None:
            time.sleep(0.002)
        time.sleep(0.003 * moment + 0.01)
        process.kill()
        process.wait()
        content = target.read_bytes()
        assert len(content) == 300_000 and len(set(content)) == 1
    subprocess.run([sys.executable, "-c", WRITER.replace("100000", "1"), str(target)], check=True, timeout=60)
    assert sorted(os.listdir(tmp_path)) == sorted(["a.bin", others])


@pytest.mark.parametrize("moment", range(MOMENTS))
def test_interrupted_while_compiling(net: Path, tmp_path: Path, moment: int) -> None:
    """With nothing compiled yet, so that most of the time goes into compiling."""
    process = subprocess.Popen(
        [*COMMAND, "simplex", str(net), "--json", "out.json"],
        cwd=tmp_path,
        env=os.environ | {"NUMBA_CACHE_DIR": str(tmp_path / "cache")},
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    while not (tmp_path / "cache").exists() and process.poll() is None:
        time.sleep(0.01)
    time.sleep(0.2 + 3.0 * moment / MOMENTS)
    asked = time.monotonic()
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=15.0)
    took_s = time.monotonic() - asked
    if process.returncode == 0:  # it was done in time
        assert json.loads((tmp_path / "out.json").read_text(encoding="utf-8"))
        return
    assert process.returncode == 130, err
    assert err.strip().splitlines()[-1] == "stopped; nothing half-written is left."
    assert "Traceback" not in err and err.count("stopped") == 1 and out == ""
    assert os.listdir(tmp_path) == ["cache"]
    assert took_s < 8.0  # two seconds, and what a busy machine adds
    with pytest.raises(ProcessLookupError):  # no child of its group is left
        os.killpg(process.pid, 0)


def test_what_a_library_left_half_built_is_thrown_away_in_silence(tmp_path: Path) -> None:
    """Interrupted in its constructor, an object of a compiler cannot end itself either, and says so late."""
    script = (
        "import os, signal, time\n"
        "import reach.commands.main as m\n"
        "class Half:\n"
        "    def __init__(self):\n"
        "        os.kill(os.getpid(), signal.SIGINT)\n"
        "        time.sleep(5)\n"
        "        self.built = True\n"
        "    def __del__(self):\n"
        "        assert self.built\n"
        "kept = []  # until the interpreter ends\n"
        "class Late(Half):\n"
        "    def __init__(self):\n"
        "        kept.append(self)\n"
        "        super().__init__()\n"
        "m.reach = lambda **_: Late()\n"
        "m.main()\n"
    )
    run = subprocess.run([sys.executable, "-c", script], cwd=tmp_path, capture_output=True, text=True)
    assert (run.returncode, run.stdout) == (130, "")
    assert run.stderr.strip() == "stopped; nothing half-written is left."


def test_an_error_a_library_makes_of_an_interruption_is_one(tmp_path: Path) -> None:
    script = (
        "import os, signal, time\n"
        "import reach.commands.main as m\n"
        "def wraps(**_):\n"
        "    try:\n"
        "        os.kill(os.getpid(), signal.SIGINT)\n"
        "        time.sleep(5)\n"
        "    except KeyboardInterrupt as stop:\n"
        "        raise RuntimeError('the compiler failed') from stop\n"
        "m.reach = wraps\n"
        "m.main()\n"
    )
    run = subprocess.run([sys.executable, "-c", script], cwd=tmp_path, capture_output=True, text=True)
    assert (run.returncode, run.stderr) == (130, "stopped; nothing half-written is left.\n")


def test_deaf_code_is_ended_all_the_same(tmp_path: Path) -> None:
    """The worst case: Ctrl-C comes while one call that never looks at signals holds the main thread."""
    script = (
        "import sys, time\n"
        "from pathlib import Path\n"
        "import reach.commands.main as m\n"
        "from reach.files import whole_file\n"
        "def deaf(interrupts):\n"
        "    with whole_file(Path('out.bin')):\n"
        "        print('ready', flush=True)\n"
        "        while True:\n"
        "            try:\n"
        "                time.sleep(60)\n"
        "            except KeyboardInterrupt:\n"
        "                pass\n"
        "m._run = deaf\n"
        "m.main()\n"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", script],
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None and process.stdout.readline() == "ready\n"
    time.sleep(0.5)
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=15.0)
    assert (process.returncode, err) == (130, "stopped; nothing half-written is left.\n")
    assert os.listdir(tmp_path) == []
