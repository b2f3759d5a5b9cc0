"""Whose turn it is as net control: by the rota of a folder's only net, or of all the nets of a club."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import replace

from reach.answers.open_net import OpenNet
from reach.answers.repeater_net import repeater_net
from reach.answers.rules import AS_WRITTEN, RuleChoice, chosen_rules
from reach.answers.surveys import repeater_paths, simplex_paths
from reach.errors import Fault, InputProblem
from reach.inputs.lookup import find_channel, find_repeater
from reach.inputs.net_folder import NetFolder, of_net
from reach.inputs.nets import ClubNet, MeetsOn
from reach.inputs.tonight import present
from reach.machinery.progress import Watch
from reach.plans.outages.failures import NetSurvey
from reach.plans.relays.net_control import rank_controls
from reach.plans.relays.rota import dates_from, fit_for_control
from reach.plans.relays.shared_rota import Meeting, NetTurn, shared_turns, year_begins

_MOST_A_YEAR = 400  # evenings of one net


def with_everyone(opened: OpenNet) -> OpenNet:
    """The same folder with those away tonight there too: a rota is of the whole roster."""
    return replace(opened, folder=opened.folder.whole or opened.folder)


def fit_for(
    opened: OpenNet, one: ClubNet, *, share: float = 0.8, choice: RuleChoice = AS_WRITTEN, watch: Watch
) -> tuple[str, ...]:
    """Who is fit to control one of the club's nets, best first, of the whole roster.

    On simplex those who reach nearly what the best reaches (`fit_for_control`); on a repeater all who are
    willing and work it, in the order of who would hear most without it.
    Raises : NoPlan with nobody willing; InputProblem; MissingTerrain; OutOfRange.
    """
    everyone = with_everyone(opened)
    rules = chosen_rules(of_net(everyone.folder, one.name), choice)
    network = simplex_paths(everyone, find_channel(everyone.net, one.channel), watch=watch)
    ranked = rank_controls(network, rules)
    if one.on is not MeetsOn.REPEATER:
        return tuple(c.call_sign for c in fit_for_control(ranked, share=share))
    hub = find_repeater(everyone.net, one.repeater)
    working = repeater_net(NetSurvey(network, repeater_paths(everyone, [hub], watch=watch)), hub, rules)
    works = {*working.plan.direct, working.control}
    return tuple(c.call_sign for c in ranked if c.call_sign in works)


def fit_for_nets(
    opened: OpenNet, *, share: float = 0.8, choice: RuleChoice = AS_WRITTEN, watch: Watch
) -> dict[str, tuple[str, ...]]:
    """The same for each of the club's nets, by its name. Raises : as `fit_for`."""
    nets = opened.folder.nets
    return {one.name: fit_for(opened, one, share=share, choice=choice, watch=watch) for one in nets}


def club_turns(
    nets: Sequence[ClubNet],
    fit: Mapping[str, tuple[str, ...]],
    *,
    start: datetime.date,
    until: datetime.date | None = None,
    count: int | None = None,
) -> tuple[NetTurn, ...]:
    """Turns of all the club's nets from a day on, until another or so many; in order of time.

    fit : as `fit_for_nets`. Raises : InputProblem when there is no net at all in that time; NoPlan for a net
    with nobody fit.
    """
    most = count or _MOST_A_YEAR
    coming = sorted(
        day for one in nets for day in dates_from(one.schedule, start=start, count=most, until=until)
    )[:most]
    if not coming:
        end = f" to {until.isoformat()}" if until else ""
        raise InputProblem(
            Fault(
                f"no net meets from {start.isoformat()}{end}",
                "choose other days, or change [[nets]]",
                "net.toml",
            )
        )
    meetings = [
        Meeting(one.name, day, fit[one.name])
        for one in nets
        for day in _dates(one, year_begins(start), coming[-1].date())
    ]
    turns = shared_turns(meetings)
    return tuple(t for t in turns if coming[0] <= t.turn.start <= coming[-1])


def turn_of(turns: Sequence[NetTurn], net: str, date: datetime.date) -> NetTurn | None:
    """That net's turn of that day, None when it does not meet."""
    return next((t for t in turns if t.net == net and t.turn.start.date() == date), None)


def next_net(folder: NetFolder, day: datetime.date) -> str:
    """The club's net that meets first on a day or after it; of two at the same time the first written.

    Raises : InputProblem when none does.
    """
    found = [
        (dates[0], number, one.name)
        for number, one in enumerate(folder.nets)
        if (dates := dates_from(one.schedule, start=day, count=1))
    ]
    if not found:
        raise InputProblem(Fault(f"no net meets from {day.isoformat()}", "change [[nets]]", "net.toml"))
    return min(found)[2]


def meeting_on(folder: NetFolder, day: datetime.date) -> NetFolder:
    """The folder for the net that meets on a day or next after it, where a club has several and none is
    chosen; otherwise as it is. Raises : as `next_net`, `present`."""
    if not folder.nets or folder.meeting is not None:
        return folder
    chosen = of_net(folder.whole or folder, next_net(folder, day))
    return present(chosen, without=folder.net.away)


def _dates(one: ClubNet, first: datetime.date, last: datetime.date) -> tuple[datetime.datetime, ...]:
    years = last.year - first.year + 1
    return dates_from(one.schedule, start=first, count=_MOST_A_YEAR * years, until=last)
