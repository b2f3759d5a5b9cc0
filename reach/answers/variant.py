"""A named variant of the net beside today's: its plan, and both compared in a sentence and a table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reach.answers.open_net import OpenNet
from reach.answers.surveys import simplex_paths
from reach.errors import NoPlan
from reach.inputs.changes import changed_net
from reach.links.network import SimplexNetwork
from reach.lists import named
from reach.machinery.progress import Watch, unwatched
from reach.plans.graph.reachability import reach_graph
from reach.plans.relays.net_control import plan_best
from reach.plans.relays.plan import RelayPlan
from reach.plans.relays.rules import RelayRules, rules_of
from reach.plans.relays.what_if import difference_sentence, plan_differences
from reach.stations import Channel

_MOST_NAMED = 12


@dataclass(frozen=True)
class Variant:
    """changes : as typed, none for today's net. plan : None where there is none, and then why says so."""

    changes: tuple[str, ...]
    network: SimplexNetwork
    rules: RelayRules
    plan: RelayPlan | None
    why: str = ""

    @property
    def sentence(self) -> str:
        """The plan in a sentence, or why there is none."""
        return self.plan.sentence if self.plan else self.why

    @property
    def links(self) -> int:
        """Pairs that work both ways by the rules."""
        return int(np.triu(reach_graph(self.network, self.rules.threshold).two_way, 1).sum())


@dataclass(frozen=True)
class Comparison:
    """rows : (what, today, with the changes)."""

    sentence: str
    rows: tuple[tuple[str, str, str], ...]


def variant(
    opened: OpenNet, changes: Sequence[str], channel: Channel, *, watch: Watch = unwatched
) -> Variant:
    """The net with these changes (`reach.inputs.changes`), planned under its best net control.

    Raises : InputProblem for a change that cannot be understood; MissingTerrain; OutOfRange.
    """
    rules = rules_of(opened.folder.planning)
    changed = changed_net(opened.net, changes) if changes else None
    network = simplex_paths(opened, channel, changed=changed, watch=watch)
    try:
        return Variant(tuple(changes), network, rules, plan_best(network, rules))
    except NoPlan as reason:
        return Variant(tuple(changes), network, rules, None, f"No plan: {reason}")


def compared(today: Variant, other: Variant) -> Comparison:
    """Today's net and a variant of it, side by side."""
    rows = tuple(
        (what, before, after)
        for (what, before), (_, after) in zip(_figures(today), _figures(other), strict=True)
    )
    if today.plan is None or other.plan is None:
        return Comparison(other.sentence, rows)
    if not other.changes:
        return Comparison(today.sentence, rows)
    return Comparison(difference_sentence(plan_differences(today.plan, other.plan), other.plan), rows)


def _figures(one: Variant) -> list[tuple[str, str]]:
    plan = one.plan
    return [
        ("Net control", plan.control if plan else "nobody"),
        ("Pairs that work both ways", str(one.links)),
        ("Worked directly", str(plan.worked) if plan else "0"),
        ("Relays", named(plan.relay_calls, most=_MOST_NAMED) or "none" if plan else "none"),
        ("More through relays", str(plan.reached - plan.worked) if plan else "0"),
        (
            "Left out",
            named([o.call_sign for o in plan.left_out], most=_MOST_NAMED) or "nobody" if plan else "",
        ),
        ("Expected heard", f"{plan.expected_heard:.1f} of {plan.on_air}" if plan else "0"),
    ]
