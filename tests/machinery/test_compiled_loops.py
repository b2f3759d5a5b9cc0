"""Sharing paths among cores, and compiled code that follows its sources."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from reach.machinery import compiled
from reach.machinery.parallel import over_paths


class Laid:
    """Paths of the given sizes, end to end."""

    def __init__(self, sizes: list[int]) -> None:
        self.start = np.concatenate(([0], np.cumsum(sizes))).astype(np.int64)


@pytest.mark.parametrize("threads", [1, 2, 3, 7])
@pytest.mark.parametrize(
    "sizes", [[], [100_000], [5] * 3, [40_000] * 5, [1, 200_000, 1], [70_000, 1, 1, 1, 90_000]]
)
def test_every_path_is_done_once(threads: int, sizes: list[int]) -> None:
    batch = Laid(sizes)
    done = np.zeros(len(sizes), dtype=int)

    def kernel(first: int, last: int, out: np.ndarray) -> None:
        out[first:last] += 1

    over_paths(kernel, batch, done, threads=threads)
    assert (done == 1).all()


def test_an_error_in_a_thread_comes_out() -> None:
    def kernel(first: int, last: int) -> None:
        raise ZeroDivisionError(first)

    with pytest.raises(ZeroDivisionError):
        over_paths(kernel, Laid([50_000] * 4), threads=2)


def test_the_stamp_follows_every_source(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "p1812").mkdir()
    for name in ("_sweep_kernel.py", "edges.py", "p1812/path.py"):
        (tmp_path / name).write_text("x = 1\n", encoding="utf-8")
    monkeypatch.setattr(compiled, "_FORMULAS", tmp_path)
    stamps = set()
    for name in ("edges.py", "p1812/path.py"):
        compiled.sources_stamp.cache_clear()
        stamps.add(compiled.sources_stamp(tmp_path))
        (tmp_path / name).write_text("x = 2\n", encoding="utf-8")
    compiled.sources_stamp.cache_clear()
    stamps.add(compiled.sources_stamp(tmp_path))
    compiled.sources_stamp.cache_clear()
    assert len(stamps) == 3


def test_a_changed_formula_is_compiled_again(tmp_path: Path) -> None:
    """A loop in one file, its formula in another: an edit of the formula gives the new answer."""
    package = tmp_path / "pack"
    package.mkdir()
    source = Path(compiled.__file__).read_text(encoding="utf-8")
    (package / "compiled.py").write_text(source, encoding="utf-8")
    formula = (
        "from numba.extending import register_jitable\n@register_jitable\ndef answer():\n    return {}\n"
    )
    (package / "loop.py").write_text(
        "from pathlib import Path\nfrom numba import njit\n"
        "from pack import compiled\nfrom pack.formula import answer\n"
        "compiled._FORMULAS = Path(__file__).parent\n"
        "@compiled.fresh\n@njit\ndef loop():\n    return answer()\n"
        "print(loop(), sum(loop.stats.cache_hits.values()))\n",
        encoding="utf-8",
    )

    def run() -> str:
        call = [sys.executable, "-B", "-c", "import pack.loop"]
        return subprocess.run(call, cwd=tmp_path, capture_output=True, text=True, check=True).stdout.strip()

    (package / "formula.py").write_text(formula.format(1), encoding="utf-8")
    assert [run(), run()] == ["1 0", "1 1"]
    (package / "formula.py").write_text(formula.format(2), encoding="utf-8")
    assert run() == "2 0"


def test_one_compilation_serves_single_paths_batches_and_read_only_arrays() -> None:
    from dataclasses import replace

    from reach.propagation._delta_bullington_kernel import delta_bullington_paths
    from reach.propagation._path_inputs_kernel import sound_paths
    from reach.propagation.diffraction_models import DeltaBullingtonModel
    from reach.terrain.profile import Profile, ProfileBatch

    profile = Profile.of(np.linspace(0.0, 10e3, 101), np.zeros(101))
    link = {"tx_height_m": 10, "rx_height_m": 2.0, "frequency_mhz": 146}
    model = DeltaBullingtonModel()
    alone = model.loss(profile, **link).loss_db  # type: ignore[arg-type]
    batch = ProfileBatch.of([profile] * 3)
    frozen = batch.ground_m.copy()
    frozen.flags.writeable = False
    for given in (batch, replace(batch, ground_m=frozen), replace(batch, zone=batch.zone.astype(np.int64))):
        assert (model.losses(given, **link).loss_db == alone).all()  # type: ignore[arg-type]
    assert len(delta_bullington_paths.signatures) == 1
    assert len(sound_paths.signatures) == 1
