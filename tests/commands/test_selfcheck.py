"""`reach selfcheck`, run as a user runs it."""

from __future__ import annotations

import json

import pytest

from reach.selfcheck import check
from reach.selfcheck.check import SelfCheck, SetCheck

from .conftest import Run


def test_a_table_of_models_and_a_verdict(reach_here: Run) -> None:
    run = reach_here("selfcheck", columns=140)
    assert run.returncode == 0, run.stderr
    assert run.stdout.startswith("The path-loss models agree with all 69 cases")
    assert run.stdout.count(" agrees\n") == 4


def test_json_and_exit_1_when_a_case_is_off(reach_here: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    broken = SelfCheck(False, "1 of 1 checks are off", (SetCheck("ITM", "NTIA", 1, 3.0, 1e-5, "A", ("A",)),))
    monkeypatch.setattr(check, "self_check", lambda progress: broken)
    run = reach_here("selfcheck", "--json", "-")
    assert run.returncode == 1
    assert json.loads(run.stdout)["sets"][0]["off"] == ["A"]
    assert "off: A" in reach_here("selfcheck").stdout
