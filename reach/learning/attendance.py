"""Who came when and who is to be expected: shares of the nets, shrunk towards what is known beforehand.

Of the n nets of the last two years a member came to c. Beforehand its share s is that of the roster's column,
or the club's own. Expected is (c + w s) / (n + w), the mean of a Beta posterior whose prior weighs as much as
w nets (w is judgement): after a few nets mostly the club's rate, after many its own.
"""

from __future__ import annotations

import datetime
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

from reach.inputs.reports import ListKind, Outcome, Report
from reach.learning.evidence import OLDEST_DAYS, evening_of
from reach.stations import Net

WEIGHT_NETS = 4.0
USUAL_SHARE = 0.6  # of the roster at a net of which nothing is known (judgement)
_FEWEST_AT_A_NET = 3  # fewer who took part that evening were trying something out


@dataclass(frozen=True)
class Attending:
    """One member or visitor. came : evenings it was there, in order.

    expected : chance that it comes to the next net, 0 to 1. through : relay -> nets it came through it.
    """

    call_sign: str
    came: tuple[datetime.date, ...]
    expected: float
    through: Mapping[str, int] = field(default_factory=dict)

    @property
    def last(self) -> datetime.date | None:
        """When it was last there."""
        return self.came[-1] if self.came else None


@dataclass(frozen=True)
class Attendance:
    """nets : evenings, in order. club_share : of the roster at a net, as far as it is known.

    members : in the order of the roster; visitors : others who were heard, by call sign.
    controls : evening -> whose list net control's was.
    """

    nets: tuple[datetime.date, ...]
    club_share: float
    members: tuple[Attending, ...]
    visitors: tuple[Attending, ...]
    controls: Mapping[datetime.date, str]


def attendance(
    reports: Iterable[Report],
    net: Net,
    *,
    zone: datetime.tzinfo,
    listed: Mapping[datetime.date, Collection[str]] | None = None,
    brought: Iterable[tuple[datetime.date, str, str]] = (),
) -> Attendance:
    """From the standing reports of all channels. zone : the club's, for what is one evening.

    listed : evening -> who stood on a list, also those linked over the internet, of whom no report is made.
    brought : (evening, station, relay it came through), from lists that say so.
    """
    hubs = {repeater.call_sign for repeater in net.repeaters}
    there: dict[datetime.date, set[str]] = defaultdict(set)
    for day, calls in (listed or {}).items():
        there[day] |= set(calls)
    relayed: dict[str, set[tuple[datetime.date, str]]] = defaultdict(set)
    lists: dict[datetime.date, Counter[str]] = defaultdict(Counter)
    for day, call, relay in brought:
        relayed[call].add((day, relay))
    for report in reports:
        evening = evening_of(report.at, zone)
        there[evening].add(report.listener)
        if report.outcome is Outcome.HEARD:
            there[evening].add(report.sender)
            if report.via and report.via not in hubs:
                relayed[report.sender].add((evening, report.via))
                there[evening].add(report.via)
        if report.list_kind is ListKind.CONTROL:
            lists[evening][report.listener] += 1
    met = sorted(day for day, calls in there.items() if len(calls - hubs) >= _FEWEST_AT_A_NET)
    nets = tuple(day for day in met if (met[-1] - day).days <= OLDEST_DAYS)
    roster = {station.call_sign: station.attendance for station in net.stations}
    came = {call: tuple(day for day in nets if call in there[day]) for call in roster}
    chances = len(nets) * len(roster)
    total = sum(len(days) for days in came.values())
    weight = WEIGHT_NETS * USUAL_SHARE * len(roster)
    share = (total + weight) / (chances + WEIGHT_NETS * len(roster)) if roster else USUAL_SHARE
    strangers = sorted(set().union(*(there[day] for day in nets)) - set(roster) - hubs) if nets else []

    def one(call: str, beforehand: float | None, days: tuple[datetime.date, ...]) -> Attending:
        prior = share if beforehand is None else beforehand
        expected = (len(days) + WEIGHT_NETS * prior) / (len(nets) + WEIGHT_NETS)
        through = Counter(relay for day, relay in relayed[call] if day in set(nets))
        return Attending(call, days, expected, dict(sorted(through.items())))

    return Attendance(
        nets=nets,
        club_share=share,
        members=tuple(one(call, said, came[call]) for call, said in roster.items()),
        visitors=tuple(
            one(call, 0.0, tuple(day for day in nets if call in there[day])) for call in strangers
        ),
        controls={day: lists[day].most_common(1)[0][0] for day in nets if lists[day]},
    )
