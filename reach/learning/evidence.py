"""Which reports are evidence, of what: the rules that decide more than the arithmetic does.

- "Not heard" counts only where the sender called on that channel in that net (somebody heard it there, or its
  own list says so) and the listener's list is complete. Counting those who never called makes every link look
  3 dB worse.
- A list that names only those heard proves check-ins, not silence. Counted as if it were complete it makes
links
  look better than they are; it is left out of the fit, and proves that the sender called.
- Net control's own list names nearly all it heard: a proven caller who is not on it is weak evidence.
- A check-in through a relay says that the relay heard the sender, and, weakly, that net control did not.
- Through a repeater a report is two links, and no grade of either: the worse of the two makes it.
- One report a sender, listener and net: a grade before "heard", the middle one of several grades, else the
  later. Heard and not heard ten minutes apart stay both.
- How a listener reports decides how all its reports of an evening are read, never the single answer.
"""

from __future__ import annotations

import datetime
import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum

import numpy as np

from reach.inputs.reports import ListKind, Outcome, Report
from reach.learning.fit import Observations
from reach.learning.likelihood import (
    GUESSED_METER_DB,
    METER_DB,
    PLAIN_DB,
    POLITE,
    WRONG,
    WRONG_WHILE_BUSY,
    Likelihoods,
    Says,
    graded,
    graded_heard,
    heard,
    metered,
    not_heard,
    silent,
)
from reach.learning.model import BandModel
from reach.links.s_meter import s9_dbm

PLAIN, GRADED, METER = 0, 1, 2
NOTED_BY_CONTROL = 0.95  # share of those it heard that net control's list names (judgement)
GUESSED_BAR_DB = 5.0
OLDEST_DAYS = 730
_APART = datetime.timedelta(minutes=10)
_DAY_BEGINS = datetime.timedelta(hours=5)  # a net past midnight belongs to the evening before
_ALWAYS_FIVE, _ALWAYS_FROM = 0.95, 20


class LeftOut(Enum):
    """Why a report is kept and shown, but not learned from; the value is how it is said."""

    UNKNOWN = "name a station that is not in the net"
    NO_LINK = "are of stations that have no path on that channel"
    OTHER_BAND = "are on a band without a channel or repeater of the net"
    HEARD_ONLY = "stand on lists that name only those heard"
    NOT_PROVEN = "say not heard of a station nobody knows to have called"
    INCOMPLETE = "say not heard on a list that is not complete"
    OLD = "are older than two years"
    TWICE = "say again what another of the same evening says"


@dataclass(frozen=True)
class Fact:
    """One thing learned from: how `listener` heard `sender` on an evening. reports : how many rows say so."""

    sender: str
    listener: str
    evening: datetime.date
    at: datetime.datetime
    heard: bool
    kind: int
    says: Says
    readability: int | None = None
    s_units: int | None = None
    level_dbm: float | None = None
    derived: bool = False


@dataclass(frozen=True)
class Evidence:
    """What reports of one band say. facts : in the order of `observations`; nets : the evenings, in order."""

    facts: tuple[Fact, ...]
    observations: Observations
    nets: tuple[datetime.date, ...]
    left_out: Mapping[LeftOut, int] = field(default_factory=dict)


@dataclass(frozen=True)
class _Hearing:
    sender: str
    listener: str
    evening: datetime.date
    at: datetime.datetime
    heard: bool
    list_kind: ListKind
    author: bool  # the listener's own words, not what follows from them
    wrong: float = WRONG
    noted: float = 1.0
    readability: int | None = None
    s_units: int | None = None
    level_dbm: float | None = None
    level_digit_db: float = 1.0


def evening_of(at: datetime.datetime, zone: datetime.tzinfo) -> datetime.date:
    """The evening a time belongs to, in the club's zone."""
    return (at.astimezone(zone) - _DAY_BEGINS).date()


def evidence(
    reports: Iterable[Report],
    model: BandModel,
    *,
    frequency_mhz: float,
    repeaters: Sequence[str],
    zone: datetime.tzinfo,
) -> Evidence:
    """What the reports of a band say of its links. reports : standing ones, of this band only.

    repeaters : call signs a report may be on. zone : the club's, for what is one evening.
    """
    reports = list(reports)
    left: Counter[LeftOut] = Counter()
    if reports:
        oldest = max(report.at for report in reports) - datetime.timedelta(days=OLDEST_DAYS)
        left[LeftOut.OLD] = sum(report.at < oldest for report in reports)
        reports = [report for report in reports if report.at >= oldest]
    known = set(model.call_signs)
    evenings = {id(report): evening_of(report.at, zone) for report in reports}
    called = _called(reports, evenings)
    hearings: list[_Hearing] = []
    for report in reports:
        if not {report.sender, report.listener} <= known:
            left[LeftOut.UNKNOWN] += 1
            continue
        found = _hearings(report, evenings[id(report)], called, set(repeaters), known)
        if isinstance(found, LeftOut):
            left[found] += 1
        else:
            hearings += found
    hearings += _silences(reports, evenings, called, set(repeaters), known)
    number = {(model.call_signs[i], model.call_signs[j]): k for k, (i, j) in enumerate(model.pairs.tolist())}
    number |= {(b, a): k for (a, b), k in number.items()}
    facts, twice = _facts(hearings, frequency_mhz)
    left[LeftOut.TWICE] = twice
    linked = [fact for fact in facts if (fact.sender, fact.listener) in number]
    left[LeftOut.NO_LINK] = len(facts) - len(linked)
    place = {call: k for k, call in enumerate(model.call_signs)}
    nets = tuple(sorted({fact.evening for fact in linked}))
    when = {evening: k for k, evening in enumerate(nets)}
    return Evidence(
        tuple(linked),
        Observations(
            np.array([number[f.sender, f.listener] for f in linked], dtype=np.int64),
            np.array([3 * (place[f.sender] > place[f.listener]) + f.kind for f in linked], dtype=np.int64),
            np.array([when[f.evening] for f in linked], dtype=np.int64),
            Likelihoods.of([f.says for f in linked]),
        ),
        nets,
        {reason: count for reason, count in left.items() if count},
    )


Evenings = Mapping[int, datetime.date]
Called = Mapping[tuple[str, datetime.date], set[str]]


def _called(reports: Sequence[Report], evenings: Evenings) -> Called:
    """(medium, evening) -> who is known to have called there."""
    found: dict[tuple[str, datetime.date], set[str]] = defaultdict(set)
    for report in reports:
        there = found[report.on, evenings[id(report)]]
        if report.outcome is Outcome.HEARD or report.list_kind is ListKind.TEST:
            there.add(report.sender)
        there.add(report.listener)  # whoever files a list of a net took part in it
    return found


def _hearings(
    report: Report, evening: datetime.date, called: Called, repeaters: set[str], known: set[str]
) -> list[_Hearing] | LeftOut:
    if report.list_kind is ListKind.HEARD_ONLY:
        return LeftOut.INCOMPLETE if report.outcome is Outcome.NOT_HEARD else LeftOut.HEARD_ONLY
    was_heard = report.outcome is Outcome.HEARD
    if not was_heard and report.sender not in called[report.on, evening]:
        return LeftOut.NOT_PROVEN
    plain = _Hearing(
        report.sender, report.listener, evening, report.at, was_heard, report.list_kind, author=True
    )
    if report.via and report.via not in repeaters:
        if report.via not in known or report.via in (report.sender, report.listener):
            return LeftOut.UNKNOWN
        relay = _Hearing(report.sender, report.via, evening, report.at, True, report.list_kind, author=False)
        missed = _Hearing(
            report.sender, report.listener, evening, report.at, False, report.list_kind,
            author=True, wrong=WRONG_WHILE_BUSY,
        )  # fmt: skip
        return [relay, missed]
    if report.on in repeaters and not {report.sender, report.listener} & {report.on}:
        return _through(report, plain, called[report.on, evening])
    return [
        _Hearing(
            report.sender, report.listener, evening, report.at, was_heard, report.list_kind,
            author=report.listener not in repeaters,
            readability=report.readability if report.listener not in repeaters else None,
            s_units=report.s_units,
            level_dbm=report.level_dbm,
            level_digit_db=report.level_digit_db,
        )
    ]  # fmt: skip


def _through(report: Report, plain: _Hearing, called: set[str]) -> list[_Hearing]:
    """Sender to repeater, and repeater to listener; a grade is neither's, a meter shows the repeater."""
    hub = report.on
    into = _Hearing(report.sender, hub, plain.evening, report.at, True, report.list_kind, author=False)
    out = _Hearing(
        hub, report.listener, plain.evening, report.at, plain.heard, report.list_kind, author=False,
        s_units=report.s_units, level_dbm=report.level_dbm, level_digit_db=report.level_digit_db,
    )  # fmt: skip
    if plain.heard:
        return [into, out]
    return [out]  # others heard it there, so it got in


def _silences(
    reports: Sequence[Report], evenings: Evenings, called: Called, repeaters: set[str], known: set[str]
) -> list[_Hearing]:
    """Proven callers that are not on net control's own list of a simplex net."""
    named: dict[tuple[str, str, datetime.date], set[str]] = defaultdict(set)
    latest: dict[tuple[str, str, datetime.date], datetime.datetime] = {}
    for report in reports:
        if report.list_kind is ListKind.CONTROL and report.on not in repeaters and report.listener in known:
            key = (report.listener, report.on, evenings[id(report)])
            named[key].add(report.sender)
            latest[key] = max(report.at, latest.get(key, report.at))
    return [
        _Hearing(
            sender, listener, evening, latest[listener, on, evening], False, ListKind.CONTROL,
            author=True, noted=NOTED_BY_CONTROL,
        )
        for (listener, on, evening), senders in named.items()
        for sender in sorted((called[on, evening] & known) - senders - {listener} - repeaters)
    ]  # fmt: skip


def _facts(hearings: Sequence[_Hearing], frequency_mhz: float) -> tuple[list[Fact], int]:
    """One fact a sender, listener and evening, read as that listener reports; and how many rows were
    merged.
    """
    groups: dict[tuple[str, str, datetime.date], list[_Hearing]] = defaultdict(list)
    grading: set[tuple[str, datetime.date]] = set()
    heard_any: set[tuple[str, datetime.date]] = set()
    grades: dict[str, list[int]] = defaultdict(list)
    for hearing in hearings:
        groups[hearing.sender, hearing.listener, hearing.evening].append(hearing)
        if hearing.author and hearing.heard:
            heard_any.add((hearing.listener, hearing.evening))
        if hearing.readability is not None:
            grading.add((hearing.listener, hearing.evening))
            grades[hearing.listener].append(hearing.readability)
    always_five = {
        call
        for call, given in grades.items()
        if len(given) >= _ALWAYS_FROM and given.count(5) >= _ALWAYS_FIVE * len(given)
    }
    facts: list[Fact] = []
    for key in sorted(groups):
        for hearing in _merged(groups[key]):
            list_of = hearing.listener, hearing.evening
            # an evening on which nobody was heard shows no grades: then the listener's habit tells
            gives = list_of in grading or (list_of not in heard_any and hearing.listener in grades)
            grades_it = hearing.author and gives and hearing.listener not in always_five
            facts.append(_fact(hearing, grades_it=grades_it, frequency_mhz=frequency_mhz))
    return facts, len(hearings) - len(facts)


def _merged(group: list[_Hearing]) -> list[_Hearing]:
    group = sorted(group, key=lambda h: (h.at, h.heard))
    yes, no = [h for h in group if h.heard], [h for h in group if not h.heard]
    direct = [h for h in no if h.noted == 1.0]
    no = direct or no
    if not yes:
        return no[-1:]
    graded_ones = sorted((h for h in yes if h.readability is not None), key=lambda h: h.readability or 0)
    if len(graded_ones) >= 3:
        best = graded_ones[len(graded_ones) // 2]
    elif graded_ones:
        best = max(graded_ones, key=lambda h: h.at)
    else:
        best = next((h for h in reversed(yes) if h.s_units is not None or h.level_dbm is not None), yes[-1])
    if not direct:
        return [best]
    last = direct[-1]
    if abs(last.at - best.at) >= _APART:
        return [best, last]
    return [max(best, last, key=lambda h: h.at)] if last.at != best.at else [best]


def _fact(hearing: _Hearing, *, grades_it: bool, frequency_mhz: float) -> Fact:
    kind, says = _says(hearing, grades_it=grades_it, frequency_mhz=frequency_mhz)
    return Fact(
        hearing.sender,
        hearing.listener,
        hearing.evening,
        hearing.at,
        hearing.heard,
        kind,
        says,
        hearing.readability,
        hearing.s_units,
        hearing.level_dbm,
        derived=not hearing.author or hearing.noted < 1.0,
    )


def _says(hearing: _Hearing, *, grades_it: bool, frequency_mhz: float) -> tuple[int, Says]:
    polite = POLITE if hearing.list_kind is ListKind.CONTROL else 0.0
    if hearing.noted < 1.0:
        return PLAIN, silent(hearing.noted, sigma_db=PLAIN_DB)
    if not hearing.heard:
        return (
            (GRADED, graded(1, wrong=hearing.wrong)) if grades_it else (PLAIN, not_heard(wrong=hearing.wrong))
        )
    if grades_it and hearing.readability is not None:
        return GRADED, graded(hearing.readability, polite=polite)
    if hearing.level_dbm is not None:
        half = hearing.level_digit_db / 2.0
        low, high = hearing.level_dbm - half, hearing.level_dbm + half
        return METER, metered(
            low, high, bars=max(10, round(60.0 / hearing.level_digit_db)), sigma_db=METER_DB
        )
    if hearing.s_units is not None:
        middle = s9_dbm(frequency_mhz) + (hearing.s_units - 9) * GUESSED_BAR_DB
        low = -math.inf if hearing.s_units == 0 else middle - GUESSED_BAR_DB / 2.0
        high = math.inf if hearing.s_units == 9 else middle + GUESSED_BAR_DB / 2.0
        return METER, metered(low, high, bars=10, sigma_db=GUESSED_METER_DB)
    return (GRADED, graded_heard()) if grades_it else (PLAIN, heard())
