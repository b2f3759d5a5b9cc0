"""Tonight's own evidence over the prediction: a link heard works, one that was tried and not heard does not.

It holds for this evening, whatever the ground says; the lasting lesson is drawn from the stored reports
(`learning/`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from reach.evening.check_ins import CheckIn
from reach.evening.fold import Sitting
from reach.links.grade import GRADES, Grade
from reach.links.network import DirectedLink, RepeaterMember, RepeaterNetwork, SimplexNetwork
from reach.plans.outages.failures import NetSurvey
from reach.stations import Repeater

_SURE_DB = 0.01  # spread of a link of which tonight says how it is
_UNHEARD = Grade.NONE.readability

Heard = tuple[str, str, int | None]
"""(sender, listener, readability; None for heard without a grade)."""


def heard_tonight(survey: NetSurvey, sitting: Sitting, repeater: Repeater | None) -> NetSurvey:
    """The survey with what the list of tonight says in place of the prediction.

    repeater : what the sitting meets on; None for the survey's simplex channel. Both directions of a link
    are known from a check-in: the station answered, so it heard. Of several the latest counts.
    """
    own, relayed = list(_by_control(sitting)), list(_by_relays(sitting))
    if repeater is None:
        return NetSurvey(_with(survey.simplex, [*own, *relayed]), survey.repeaters)
    hubs = tuple(_through(hub, own) if hub.repeater == repeater else hub for hub in survey.repeaters)
    return NetSurvey(_with(survey.simplex, relayed), hubs)  # relays call on simplex


def _by_control(sitting: Sitting) -> Iterator[Heard]:
    """Where the net meets. Misses first: whoever is on the list was heard after all."""
    for miss in sitting.missed:
        yield miss.call, miss.by, _UNHEARD
    for entry in sitting.entries:
        if entry.said.through:
            yield entry.call, entry.control, _UNHEARD  # or it would have been taken at once
        elif entry.said.kind is not CheckIn.INTERNET:
            yield entry.call, entry.control, entry.said.heard
            yield entry.control, entry.call, entry.said.given


def _by_relays(sitting: Sitting) -> Iterator[Heard]:
    for entry in sitting.entries:
        if entry.said.through:
            yield entry.call, entry.said.through, entry.said.relay_heard
            yield entry.said.through, entry.call, None


def _with(network: SimplexNetwork, facts: list[Heard]) -> SimplexNetwork:
    known = set(network.call_signs)
    margin_db, chance, sigma_db = network.margin_db.copy(), network.chance.copy(), network.sigma_db.copy()
    both = network.chance_both_ways.copy()
    told: set[tuple[int, int]] = set()
    for sender, listener, grade in facts:
        if {sender, listener} <= known and sender != listener:
            i, j = network.index(sender), network.index(listener)
            margin_db[i, j] = _margin_db(network.margin_db[i, j], grade)
            chance[i, j] = float(margin_db[i, j] >= 0.0)
            sigma_db[i, j] = _SURE_DB
            told.add((i, j))
    for i, j in told:
        there, back = chance[i, j], chance[j, i]
        both[i, j] = both[j, i] = there * back if (j, i) in told else min(there, back)
    return replace(network, margin_db=margin_db, chance=chance, sigma_db=sigma_db, pair_chance=both)


def _through(hub: RepeaterNetwork, facts: list[Heard]) -> RepeaterNetwork:
    """Who was heard over the repeater gets in and, having answered, hears it."""
    heard = {sender for sender, _, grade in facts if grade is None or grade >= Grade.WORKABLE.readability}
    return replace(hub, members=tuple(_sure(m) if m.call_sign in heard else m for m in hub.members))


def _sure(member: RepeaterMember) -> RepeaterMember:
    def link(one: DirectedLink) -> DirectedLink:
        return replace(
            one, margin_db=_margin_db(one.margin_db, None), chance=1.0, sigma_db=_SURE_DB, spread=None
        )

    return replace(member, talk_in=link(member.talk_in), talk_out=link(member.talk_out))


def _margin_db(predicted_db: float, readability: int | None) -> float:
    """The margin over workable nearest to the prediction that has this readability; workable at least."""
    workable = Grade.WORKABLE.from_db
    if readability is None:
        return float(np.fmax(predicted_db, 0.0))
    at = next(k for k, grade in enumerate(GRADES) if grade.readability == readability)
    lowest = GRADES[at].from_db - workable
    highest = np.nextafter(GRADES[at - 1].from_db - workable, -np.inf) if at else np.inf
    known_db = 0.0 if np.isnan(predicted_db) else predicted_db
    return float(min(max(known_db, lowest), highest))
