"""How a command keeps its memory; tried in a process of its own, as it is set once for all."""

from __future__ import annotations

import subprocess
import sys

import pytest

TWICE = """
import ctypes, gc, resource, sys
import numpy as np
from reach.machinery.process import keep_memory
if sys.argv[1] == "kept":
    keep_memory()
def faults_of_a_large_array():
    before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    np.ones(8_000_000)
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before
faults_of_a_large_array()
print(gc.get_threshold()[0], faults_of_a_large_array())
"""


def _told(how: str) -> list[int]:
    ran = subprocess.run([sys.executable, "-c", TWICE, how], capture_output=True, text=True, check=True)
    return [int(word) for word in ran.stdout.split()]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="other systems keep memory in their own way")
def test_memory_given_back_is_used_again_without_asking_the_system() -> None:
    before_a_look, faults = _told("kept")
    usual_before_a_look, usual_faults = _told("as usual")
    assert before_a_look > 10 * usual_before_a_look
    assert faults <= 2
    assert usual_faults > 10 * max(faults, 1)
