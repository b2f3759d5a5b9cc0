"""What members left out of a relay plan can do by hand to come in, each thing planned before it is said."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from reach.answers.open_net import OpenNet
from reach.answers.surveys import simplex_paths
from reach.inputs.deeds import Deed, deeds_in_words, deeds_of
from reach.lists import named
from reach.machinery.progress import Watch
from reach.plans.relays.near_fix import LeftOut, reached_from
from reach.plans.relays.plan import RelayPlan
from reach.stations import Channel

MOST_HELPED = 6  # members looked at, the nearest to coming in first: each thing to do is a survey of its own


@dataclass(frozen=True)
class ByHand:
    """The least a member can do by hand to come in, with the same net control and the relays willing.

    deed : said of the member; '' when nothing it can do brings it in. tried : all that was planned.
    others : who else was left out and comes in with it.
    """

    call_sign: str
    deed: str
    tried: tuple[str, ...]
    others: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """One sentence: what to do, or where to ask when nothing helps."""
        text = deeds_in_words(self.call_sign, [self.deed] if self.deed else [], tried=self.tried)
        return f"{text[:-1]}; then {_come(self.others)}." if self.others else text


def by_hand(opened: OpenNet, plan: RelayPlan, channel: Channel, *, watch: Watch) -> tuple[ByHand, ...]:
    """For each member left out, at most MOST_HELPED, nearest first. Raises : MissingTerrain, OutOfRange."""
    nearest = sorted(plan.left_out, key=lambda out: (_missing_db(out), out.call_sign))[:MOST_HELPED]
    return tuple(_least(opened, plan, channel, out.call_sign, watch) for out in nearest)


def _least(opened: OpenNet, plan: RelayPlan, channel: Channel, call_sign: str, watch: Watch) -> ByHand:
    out = {one.call_sign for one in plan.left_out}
    tried = []
    for deed, reached in _planned(opened, plan, channel, call_sign, watch):
        tried.append(deed.words)
        if call_sign in reached:
            others = tuple(sorted((out & reached) - {call_sign}))
            return ByHand(call_sign, deed.words, tuple(tried), others)
    return ByHand(call_sign, "", tuple(tried))


def _planned(
    opened: OpenNet, plan: RelayPlan, channel: Channel, call_sign: str, watch: Watch
) -> Iterator[tuple[Deed, frozenset[str]]]:
    """Each thing to do, least effort first, and who is reached with it."""
    net = opened.net
    for deed in deeds_of(net.station(call_sign)):
        network = simplex_paths(opened, channel, changed=net.exchanged(deed.station), watch=watch)
        yield deed, reached_from(network, plan.rules, control=plan.control)


def _missing_db(out: LeftOut) -> float:
    return out.near_miss.missing_db if out.near_miss else float("inf")


def _come(calls: tuple[str, ...]) -> str:
    return f"{named(calls, most=MOST_HELPED)} {'does' if len(calls) == 1 else 'do'} too"
