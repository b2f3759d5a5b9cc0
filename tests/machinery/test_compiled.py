"""Compiled sweeps: whether one is at hand, and that it goes with its sources."""

from __future__ import annotations

import subprocess
import sys

from reach.machinery.compiled import compiled_before

SCRIPT = """
import numpy as np
from numba import njit
from reach.machinery.compiled import compiled_before, fresh

@fresh
@njit
def double(x):
    return x + x

print(compiled_before(double))
double(1.0)
print(compiled_before(double))
double._cache._cache_file._source_stamp = "of other sources"
print(compiled_before(double))
"""


def test_compiled_loops_are_known_until_their_sources_change(tmp_path: object) -> None:
    script = f"{tmp_path}/loops.py"
    with open(script, "w", encoding="utf-8") as file:
        file.write(SCRIPT)
    runs = [
        subprocess.run([sys.executable, script], capture_output=True, text=True, timeout=120).stdout.split()
        for _ in range(2)
    ]
    assert runs == [["False", "True", "False"], ["True", "True", "False"]]


def test_a_loop_that_is_not_kept_counts_as_not_compiled() -> None:
    from numba import njit

    assert not compiled_before(njit(lambda x: x))
