"""The self-check: it agrees where the engine is right, and says so where it is not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reach.selfcheck import check
from reach.selfcheck.cases import CASES, itm_cases, p526_cases, p1812_cases


def test_every_case_agrees() -> None:
    seen: list[tuple[int, int]] = []
    found = check.self_check(lambda done, total: seen.append((done, total)))
    assert found.agrees and all(checked.agrees for checked in found.sets)
    assert [checked.cases for checked in found.sets] == [30, 10, 29, 9]
    assert seen[-1] == (69, 69)


@pytest.mark.parametrize("wrong_by_db", [1e-3, -40.0, float("nan")])
def test_an_engine_that_is_off_is_found_and_named(
    monkeypatch: pytest.MonkeyPatch, wrong_by_db: float
) -> None:
    cases = list(p526_cases())
    cases[3] = replace(cases[3], expected_db=cases[3].expected_db + wrong_by_db)
    monkeypatch.setattr(check, "p526_cases", lambda: iter(cases))
    found = check.self_check()
    assert not found.agrees and "off" in found.headline
    assert [checked.off for checked in found.sets if checked.off] == [(cases[3].name,)]
    assert next(checked.worst for checked in found.sets if checked.off) == cases[3].name


def test_names_are_unique_and_the_readme_tells_source_and_terms() -> None:
    for cases in (p1812_cases(), p526_cases(), itm_cases()):
        names = [case.name for case in cases]
        assert len(names) == len(set(names))
    text = (CASES / "README.md").read_text(encoding="utf-8")
    assert all(f"`{folder.name}/`" in text for folder in CASES.iterdir() if folder.is_dir())
    assert "acknowledge" in text and "What was changed" in text
