"""The net on one repeater: who works it, who is worked through a relay into it, who only hears it."""

from __future__ import annotations

from dataclasses import dataclass

from reach.errors import Fault, InputProblem, NoPlan
from reach.links.network import SimplexNetwork
from reach.lists import named as listed_in_short
from reach.plans.outages.failures import NetSurvey, Outage, joined, standing
from reach.plans.outages.gatherings import centre_rules, every_gathering
from reach.plans.relays.plan import RelayPlan, plan_relays
from reach.plans.relays.rules import RelayRules
from reach.stations import Repeater

_MOST_NAMED = 6


@dataclass(frozen=True)
class RepeaterNet:
    """One repeater's net.

    control, stand_in : call signs; stand_in '' when nobody else who works the repeater is willing.
    plan : relays around the repeater; its `control` is the repeater itself, its relays call on simplex.
    network : what the plan was made on, the repeater one of its stations.
    hears_only : who hears the repeater and can be told things, but is not in the net.
    """

    repeater: Repeater
    control: str
    stand_in: str
    plan: RelayPlan
    network: SimplexNetwork
    hears_only: tuple[str, ...]

    @property
    def nothing(self) -> tuple[str, ...]:
        """Who is not in the net and does not hear it either."""
        out = (left.call_sign for left in self.plan.left_out)
        return tuple(call for call in out if call not in self.hears_only)

    @property
    def sentence(self) -> str:
        """The answer in one sentence, net control counted among those who work the repeater."""
        plan, call = self.plan, self.repeater.call_sign
        total = len(plan.direct) + len(plan.relayed) + len(plan.left_out)
        parts = [f"{self.control} as net control on {call}: {len(plan.direct)} of {total} work it"]
        if plan.relayed:
            who = listed_in_short(plan.relay_calls, most=_MOST_NAMED)
            parts.append(f"{len(plan.relayed)} more through {who}, called on simplex")
        if self.hears_only:
            listed = listed_in_short(self.hears_only, most=_MOST_NAMED)
            parts.append(f"{listed} only hear{'s' if len(self.hears_only) == 1 else ''} it")
        if self.nothing:
            have = "has" if len(self.nothing) == 1 else "have"
            parts.append(f"{listed_in_short(self.nothing, most=_MOST_NAMED)} {have} no way")
        return "; ".join(parts) + "."


def repeater_net(
    survey: NetSurvey, repeater: Repeater, rules: RelayRules, *, wished: str = "", named: str | None = None
) -> RepeaterNet:
    """The net on a repeater of the survey, its relays working on the survey's simplex channel.

    wished : net control where it works the repeater, otherwise the surest there is; named : this one only.
    Raises : NoPlan when nobody willing works the repeater; InputProblem when the one named does not.
    """
    own = NetSurvey(survey.simplex, (survey.repeater(repeater.call_sign),))
    left = standing(own, Outage())
    rules = centre_rules(rules, repeater=repeater.call_sign)
    gathering = next(every_gathering(own, left, rules), None)
    if gathering is None or not gathering.repeater:
        raise NoPlan(f"nobody who works {repeater.call_sign} is willing to be net control.")
    network = joined(own, left, rules, hub=repeater.call_sign).network
    plan = plan_relays(network, rules, control=repeater.call_sign)
    if named is not None and named not in plan.direct:
        raise InputProblem(
            Fault(f"{named} does not work {repeater.call_sign} both ways", "name another net control")
        )
    control = named or (wished if wished in plan.direct else gathering.control)
    willing = [call for call in plan.direct if own.net.station(call).willing_control and call != control]
    willing.sort(key=lambda call: (-network.link(repeater.call_sign, call).chance, call))
    out = {missed.call_sign for missed in plan.left_out}
    members = own.repeaters[0].members
    return RepeaterNet(
        repeater=repeater,
        control=control,
        stand_in=willing[0] if willing else "",
        plan=plan,
        network=network,
        hears_only=tuple(sorted(m.call_sign for m in members if m.call_sign in out and m.hears)),
    )
