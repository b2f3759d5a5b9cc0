"""What counts as evidence: each rule on the smallest case that shows it."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest

from reach.inputs.reports import ListKind, Outcome, Report
from reach.learning.evidence import GRADED, METER, PLAIN, Evidence, LeftOut, evening_of, evidence
from reach.learning.likelihood import WRONG_WHILE_BUSY
from tests.learning.test_fit import bases

A, B, C, HUB = (f"QK{k}A" for k in range(1, 5))
AT = datetime.datetime(2026, 11, 24, 19, 30, tzinfo=datetime.UTC)
HEARD = Report(at=AT, listener=B, sender=A, on="two metres", list_kind=ListKind.COMPLETE)
MISSED = replace(HEARD, outcome=Outcome.NOT_HEARD)


def read(*reports: Report) -> Evidence:
    return evidence(reports, bases(4), frequency_mhz=146.52, repeaters=(HUB,), zone=datetime.UTC)


def said(found: Evidence) -> list[tuple[str, str, bool, int]]:
    return [(f.sender, f.listener, f.heard, f.kind) for f in found.facts]


def test_silence_needs_a_call_that_somebody_heard() -> None:
    alone = read(MISSED)
    assert said(alone) == []
    assert alone.left_out == {LeftOut.NOT_PROVEN: 1}
    proven = read(MISSED, replace(HEARD, listener=C, list_kind=ListKind.HEARD_ONLY))
    assert said(proven) == [(A, B, False, PLAIN)]
    own_list = read(MISSED, replace(HEARD, listener=A, sender=C))
    assert (A, B, False, PLAIN) in said(own_list)
    tested = read(replace(MISSED, list_kind=ListKind.TEST))
    assert said(tested) == [(A, B, False, PLAIN)]


def test_another_channel_or_evening_proves_nothing() -> None:
    other = replace(HEARD, listener=C, list_kind=ListKind.HEARD_ONLY)
    assert said(read(MISSED, replace(other, on="2 m"))) == []
    assert said(read(MISSED, replace(other, at=AT + datetime.timedelta(days=7)))) == []


def test_a_list_of_those_heard_says_nothing_of_paths() -> None:
    found = read(
        replace(HEARD, list_kind=ListKind.HEARD_ONLY),
        replace(MISSED, list_kind=ListKind.HEARD_ONLY, listener=C),
    )
    assert said(found) == []
    assert found.left_out == {LeftOut.HEARD_ONLY: 1, LeftOut.INCOMPLETE: 1}


def test_net_controls_list_makes_silence_weak_evidence() -> None:
    control = replace(HEARD, list_kind=ListKind.CONTROL)
    found = read(control, replace(HEARD, sender=C, listener=A))
    silence = next(f for f in found.facts if f.sender == C and f.listener == B)
    assert not silence.heard
    assert silence.derived
    assert silence.says.floor == pytest.approx(0.05 + 0.015)


def test_a_relayed_check_in_says_what_it_says() -> None:
    found = read(replace(HEARD, via=C))
    assert said(found) == [(A, B, False, PLAIN), (A, C, True, PLAIN)]
    assert found.facts[0].says.floor == pytest.approx(WRONG_WHILE_BUSY / 2.0)


def test_through_a_repeater_a_report_is_two_links_without_a_grade() -> None:
    found = read(replace(HEARD, on=HUB, readability=4))
    assert said(found) == [(A, HUB, True, PLAIN), (HUB, B, True, PLAIN)]
    missed = read(replace(MISSED, on=HUB), replace(HEARD, on=HUB, listener=C))
    assert (HUB, B, False, PLAIN) in said(missed)
    assert (A, HUB, True, PLAIN) in said(missed)
    assert (A, HUB, False, PLAIN) not in said(missed)
    direct = read(replace(MISSED, listener=HUB, on=HUB, list_kind=ListKind.TEST))
    assert said(direct) == [(A, HUB, False, PLAIN)]


def test_one_report_a_pair_and_evening() -> None:
    def later(minutes: int, **changes: object) -> Report:
        return replace(HEARD, at=AT + datetime.timedelta(minutes=minutes), **changes)  # type: ignore[arg-type]

    three = read(*(later(k, readability=r) for k, r in enumerate((5, 2, 4))))
    assert [f.readability for f in three.facts] == [4]
    assert three.left_out == {LeftOut.TWICE: 2}
    assert [f.readability for f in read(later(0), later(1, readability=3)).facts] == [3]
    both = read(later(0), later(12, outcome=Outcome.NOT_HEARD))
    assert sorted(f.heard for f in both.facts) == [False, True]
    assert [f.heard for f in read(later(0), later(5, outcome=Outcome.NOT_HEARD)).facts] == [False]


def test_how_a_listener_reports_decides_how_all_of_an_evening_is_read() -> None:
    graded = replace(HEARD, readability=4)
    proof = replace(HEARD, sender=C, listener=A, list_kind=ListKind.HEARD_ONLY)
    found = read(graded, replace(MISSED, sender=C), proof)
    assert {f.kind for f in found.facts} == {GRADED}
    assert {f.kind for f in read(HEARD, replace(MISSED, sender=C), proof).facts} == {PLAIN}
    silent_evening = replace(MISSED, sender=C, at=AT + datetime.timedelta(days=7))
    its_proof = replace(proof, at=silent_evening.at)
    assert {f.kind for f in read(graded, silent_evening, its_proof).facts} == {GRADED}


def test_meters() -> None:
    (fact,) = read(replace(HEARD, s_units=9)).facts
    assert fact.kind == METER
    ((_, low, high),) = fact.says.parts
    assert (low, high) == (pytest.approx(-95.5), float("inf"))
    (exact,) = read(replace(HEARD, level_dbm=-97.0)).facts
    ((_, low, high),) = exact.says.parts
    assert (low, high) == pytest.approx((-97.5, -96.5))


def test_strangers_and_old_reports_are_counted() -> None:
    found = read(HEARD, replace(HEARD, sender="QK9ZZZ"), replace(HEARD, at=AT - datetime.timedelta(days=800)))
    assert len(found.facts) == 1
    assert found.left_out == {LeftOut.OLD: 1, LeftOut.UNKNOWN: 1}


def test_a_net_past_midnight_is_one_evening() -> None:
    late = datetime.datetime(2026, 11, 25, 0, 40, tzinfo=datetime.UTC)
    assert evening_of(late, datetime.UTC) == datetime.date(2026, 11, 24)
