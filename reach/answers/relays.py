"""The fewest relays for a net control, who steps in for whom, and what a change would change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reach.answers.by_hand import ByHand, by_hand
from reach.answers.open_net import OpenNet
from reach.answers.record import Answer
from reach.answers.rules import AS_WRITTEN, RuleChoice, chosen_rules
from reach.answers.sheet import Cell, Sheet
from reach.answers.surveys import simplex_paths
from reach.answers.tonight import tonight_headline
from reach.errors import Fault, InputProblem
from reach.inputs.changes import changed_net
from reach.inputs.lookup import find_channel, find_station
from reach.links.assumed import assumed_in_short, assumed_notes
from reach.links.network import SimplexNetwork
from reach.links.sayings import chance_in_words
from reach.machinery.progress import Watch, unwatched
from reach.notes import texts
from reach.plans.graph.reachability import reach_graph
from reach.plans.relays.forecast import CheckInForecast, forecast_check_ins
from reach.plans.relays.near_fix import ChangeKind
from reach.plans.relays.net_control import plan_under
from reach.plans.relays.plan import RelayPlan
from reach.plans.relays.rules import RelayRules
from reach.plans.relays.what_if import Difference, difference_sentence, plan_differences
from reach.stations import Channel, Net


@dataclass(frozen=True)
class Simulation:
    """Evenings to simulate for the check-ins to expect, and the seed they are drawn from."""

    evenings: int = 10_000
    seed: int = 1


USUAL_SIMULATION = Simulation()


@dataclass(frozen=True)
class RelaysFigures:
    """A relay plan for machines. differences : against the net as it is; of a what-if only."""

    channel: str
    headline: str
    plan: RelayPlan
    check_ins: CheckInForecast
    by_hand: tuple[ByHand, ...] = ()
    differences: tuple[Difference, ...] = ()


@dataclass(frozen=True, kw_only=True)
class RelaysAnswer(Answer):
    """network : every pair, both ways. check_ins : to expect on an evening. by_hand : what those left out can
    do; empty for a what-if.
    """

    network: SimplexNetwork
    plan: RelayPlan
    check_ins: CheckInForecast
    by_hand: tuple[ByHand, ...] = ()

    @property
    def one_change(self) -> tuple[str, ...]:
        """What others could change, in sentences; decibels only where nobody looked for what can be done."""
        changes = self.plan.changes
        return tuple(
            f"{change.words[0].upper()}{change.words[1:]}."
            for change in changes
            if change.kind is not ChangeKind.GAIN or not self.by_hand
        )

    @property
    def channel(self) -> Channel:
        """The channel the net is planned on."""
        return self.network.channel

    @property
    def basis(self) -> str:
        """What counts as a link, and how far the plan is proven."""
        plan, rules = self.plan, self.plan.rules
        proof = (
            "every step is proven best"
            if plan.proven
            else "in the time allowed: " + "; ".join(p.words for p in plan.proofs if not p.is_tie_break)
        )
        heard = (
            f"Expected to be heard, each on its first way: {plan.expected_heard:.1f} of {plan.on_air}, "
            f"without a relay {plan.expected_direct:.1f}. "
        )
        return heard + (
            f"A link counts from {rules.threshold.words}; {proof}. To spare the busiest relay the expected"
            f" number heard may lie up to {rules.expected_slack:g} below the best."
        )

    @property
    def figures(self) -> RelaysFigures:
        """As Answer.figures."""
        return RelaysFigures(self.channel.name, self.headline, self.plan, self.check_ins, self.by_hand)


@dataclass(frozen=True, kw_only=True)
class WhatIfAnswer(RelaysAnswer):
    """The same with the changes made. differences : against the net as it is; empty when nothing changes.

    assumed, warnings : of the net as it is.
    """

    differences: tuple[Difference, ...]

    @property
    def figures(self) -> RelaysFigures:
        """As Answer.figures."""
        return RelaysFigures(
            self.channel.name, self.headline, self.plan, self.check_ins, differences=self.differences
        )


@dataclass(frozen=True)
class WhatIf:
    """What a change would change. plan, network : with it; sentence : the answer."""

    plan: RelayPlan
    network: SimplexNetwork
    differences: tuple[Difference, ...]
    sentence: str


def relays(
    opened: OpenNet,
    *,
    channel: str | None = None,
    control: str | None = None,
    choice: RuleChoice = AS_WRITTEN,
    simulation: Simulation = USUAL_SIMULATION,
    watch: Watch = unwatched,
) -> RelaysAnswer:
    """The relay plan on a channel, by name or frequency, the net's first unless named.

    control : plan for this net control instead of the best one.
    Raises : InputProblem for what is not in the net; MissingTerrain; OutOfRange; NoPlan.
    """
    net = opened.net
    on = find_channel(net, channel)
    rules = chosen_rules(opened.folder, choice)
    named = None if control is None else find_station(net, control).call_sign
    network = simplex_paths(opened, on, watch=watch)
    plan = plan_under(network, rules, control=named)
    return RelaysAnswer(
        net=net,
        headline=tonight_headline(net, plan.sentence),
        assumed=assumed_notes(net),
        in_short=assumed_in_short(net),
        warnings=texts(opened.warnings, network.warnings, plan.warnings),
        rows=way_rows(plan, network),
        network=network,
        plan=plan,
        check_ins=_check_ins(plan, network, simulation),
        by_hand=by_hand(opened, plan, on, watch=watch),
    )


def what_if(
    opened: OpenNet,
    *,
    changes: Sequence[str],
    channel: str | None = None,
    control: str | None = None,
    choice: RuleChoice = AS_WRITTEN,
    simulation: Simulation = USUAL_SIMULATION,
    watch: Watch = unwatched,
) -> WhatIfAnswer:
    """The relay plan with changes such as "without QK3ABC", and how it differs from that of the net as it is.

    control : plan both for this net control; unless named each has its best one.
    Raises : InputProblem for what is not in the net, or a change that cannot be understood; as `relays`.
    """
    net = opened.net
    on = find_channel(net, channel)
    rules = chosen_rules(opened.folder, choice)
    changed = changed_net(net, changes)
    named = None if control is None else find_station(net, control).call_sign
    if named is not None and named not in {station.call_sign for station in changed.stations}:
        raise InputProblem(
            Fault(f"--control: the change leaves {named} out of the net", "name another net control")
        )
    network = simplex_paths(opened, on, watch=watch)
    before = plan_under(network, rules, control=named)
    warnings = texts(opened.warnings, network.warnings, before.warnings)
    found = changed_plan(opened, changed, before=before, channel=on, rules=rules, control=named, watch=watch)
    return WhatIfAnswer(
        net=net,
        headline=tonight_headline(net, found.sentence),
        assumed=assumed_notes(net),
        in_short=assumed_in_short(net),
        warnings=warnings,
        rows=way_rows(found.plan, found.network),
        network=found.network,
        plan=found.plan,
        check_ins=_check_ins(found.plan, found.network, simulation),
        differences=found.differences,
    )


def changed_plan(
    opened: OpenNet,
    changed: Net,
    *,
    before: RelayPlan,
    channel: Channel,
    rules: RelayRules,
    control: str | None,
    watch: Watch = unwatched,
) -> WhatIf:
    """A changed net planned anew beside the plan before. Raises : MissingTerrain, OutOfRange, NoPlan."""
    network = simplex_paths(opened, channel, changed=changed, watch=watch)
    after = plan_under(network, rules, control=control)
    differences = plan_differences(before, after)
    return WhatIf(after, network, differences, difference_sentence(differences, after))


def _check_ins(plan: RelayPlan, network: SimplexNetwork, simulation: Simulation) -> CheckInForecast:
    return forecast_check_ins(plan, network, seed=simulation.seed, evenings=simulation.evenings)


def surer_sentence(plan: RelayPlan) -> str:
    """Who works net control directly but goes through a relay, with both chances; '' for nobody."""
    parts = [
        f"{station.call_sign} {chance_in_words(station.direct_chance)}, through {station.via[0]}"
        f" {chance_in_words(station.chance)}"
        for station in plan.relayed
        if station.direct_chance
    ]
    if not parts:
        return ""
    return f"Surer through a relay than directly: {'; '.join(parts)}."


def weak_sentence(plan: RelayPlan) -> str:
    """Who is called directly though not heard every time, and whom to ask then; '' for nobody."""
    parts = [
        f"{weak.call_sign} {chance_in_words(weak.chance)}"
        + (
            f", else ask {weak.ask} ({chance_in_words(weak.ask_chance)})"
            if weak.ask
            else ", no relay or stand-by works it"
        )
        for weak in plan.weak
    ]
    return f"Called directly, but not heard every time: {'; '.join(parts)}." if parts else ""


def way_rows(plan: RelayPlan, network: SimplexNetwork) -> Sheet:
    """Every station of the plan, a row each; spare_db is over the plan's threshold."""
    graph = reach_graph(network, plan.rules.threshold)
    at = graph.index(plan.control)
    columns = ("station", "part", "via", "second_via", "chance", "direct_chance", "spare_db", "near_miss")
    standbys = {standby.call_sign for standby in plan.standbys}
    rows: list[tuple[Cell, ...]] = [(plan.control, "net control", "", "", None, None, None, "")]
    ask = {weak.call_sign: weak.ask for weak in plan.weak}
    for call in plan.direct:
        part = "relay" if call in plan.relay_calls else "stand-by" if call in standbys else "direct"
        place = graph.index(call)
        chance, spare_db = float(graph.pair_chance[at, place]), float(graph.pair_spare_db[at, place])
        rows.append((call, part, "", ask.get(call, ""), chance, chance, spare_db, ""))
    for station in plan.relayed:
        part = "relay" if station.call_sign in plan.relay_calls else "relayed"
        via, second = " > ".join(station.via), " > ".join(station.second)
        directly = station.direct_chance or None
        figures = (station.chance, directly, station.weakest_db)
        rows.append((station.call_sign, part, via, second, *figures, ""))
    rows += [(out.call_sign, "left out", "", "", None, None, None, out.words) for out in plan.left_out]
    rows += [(call, "no radio path", "", "", None, None, None, "") for call in plan.no_radio]
    return Sheet(columns, tuple(rows))
