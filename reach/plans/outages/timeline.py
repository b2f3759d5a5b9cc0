"""One timeline of the net on batteries: who holds which duty from when to when, and when it must change.

Every battery drains by the duty its station has at the time. When one that carries a duty is empty (net
control, a relay, a repeater in use) the net is planned anew with what is left, and the charge already spent
stays spent. When anybody else falls silent the rest go on as they are. The net is taken to be in session all
the time.

    spent in a stretch = its length / hours the full battery lasts on that duty (`battery_life`)
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from reach.inputs.planning import BatteryRules
from reach.plans.outages.backup import OutagePlan, plan_without_stand_in
from reach.plans.outages.battery import Duty, battery_life
from reach.plans.outages.failures import Mains, NetSurvey, Outage
from reach.plans.relays.rules import RelayRules
from reach.stations import Repeater, Station

_EMPTY = 1e-9  # share of a battery below which it is empty


@dataclass(frozen=True)
class Charge:
    """What one battery has left at the start of a stretch, and for how long on the duty it has in it.

    left : share of what can be used, 1 when full. lasts_h : from the start of the stretch.
    """

    call_sign: str
    duty: Duty
    left: float
    lasts_h: float


@dataclass(frozen=True)
class Stretch:
    """The net between two changes.

    from_h, until_h : hours after the mains failed; until_h None when no battery known ends it. gone : whose
    batteries ended the stretch before. hub, control, relays : '' and () without a net; willing : whether net
    control is marked so. in_net : by call sign. charges : of every battery known, by call sign.
    """

    from_h: float
    until_h: float | None
    gone: tuple[str, ...]
    hub: str
    control: str
    willing: bool
    relays: tuple[str, ...]
    in_net: tuple[str, ...]
    charges: tuple[Charge, ...]

    def same_net(self, other: Stretch) -> bool:
        """Whether both meet in the same place under the same net control and relays."""
        return (self.hub, self.control, self.relays) == (other.hub, other.control, other.relays)


@dataclass(frozen=True)
class Timeline:
    """The net from the failure of the mains until it ends, or as far as batteries are known.

    unknown : stations and repeaters that take part at first and of which nobody said how long they last;
    they are counted as lasting. empty_h : hour at which each battery known is empty, by call sign; once there
    is no net, on the duty it had last.
    """

    stretches: tuple[Stretch, ...]
    unknown: tuple[str, ...]
    empty_h: Mapping[str, float]

    @property
    def ends_h(self) -> float | None:
        """When no net is left; None when no battery known brings that about."""
        last = self.stretches[-1]
        return None if last.control else last.from_h

    @property
    def changes_h(self) -> float | None:
        """When the net first has to change its place, net control or relays, or ends; None for never."""
        first = self.stretches[0]
        return next((s.from_h for s in self.stretches if not s.same_net(first)), None)


def battery_timeline(
    survey: NetSurvey, plan: OutagePlan, rules: RelayRules, battery: BatteryRules
) -> Timeline | None:
    """The timeline of a plan; None with the mains on. Raises : KeyError as `plan_outage`."""
    if plan.outage.mains is Mains.ON:
        return None
    first, silent = plan, frozenset[str]()
    left = {call: 1.0 for call in _backed_up(survey, plan) if _hours(survey, call, Duty.MEMBER, battery)}
    empty_h: dict[str, float] = {}
    stretches: list[Stretch] = []
    now_h, gone = 0.0, tuple[str, ...]()
    while True:
        charges = _charges(survey, plan, silent, left, battery)
        step_h = min((charge.lasts_h for charge in charges), default=None) if plan.control else None
        until_h = None if step_h is None else now_h + step_h
        stretches.append(_stretch(plan, silent, now_h, until_h, gone, charges))
        if step_h is None:
            empty_h |= {charge.call_sign: now_h + charge.lasts_h for charge in charges}
            break
        now_h += step_h
        left = {c.call_sign: c.left * (1.0 - step_h / c.lasts_h) for c in charges}
        gone = tuple(call for call, share in left.items() if share <= _EMPTY)
        left = {call: share for call, share in left.items() if call not in gone}
        empty_h |= dict.fromkeys(gone, now_h)
        silent |= frozenset(gone)
        if _breaks(plan, silent):
            plan = plan_without_stand_in(survey, _without(survey, first.outage, silent), rules)
    at_first = {*first.in_net, *_in_use(first)}
    unknown = (call for call in _backed_up(survey, first) if call in at_first and call not in empty_h)
    return Timeline(tuple(stretches), tuple(sorted(unknown)), empty_h)


def _backed_up(survey: NetSurvey, plan: OutagePlan) -> tuple[str, ...]:
    """Everybody and every repeater left on the air without mains."""
    return (*plan.standing.repeaters, *plan.standing.members)


def _hours(survey: NetSurvey, call_sign: str, duty: Duty, battery: BatteryRules) -> float | None:
    """How long a full battery lasts on a duty; None when nobody said."""
    hubs = {network.repeater.call_sign for network in survey.repeaters}
    net = survey.net
    who: Station | Repeater = net.repeater(call_sign) if call_sign in hubs else net.station(call_sign)
    return battery_life(who, battery, duty=duty).hours


def _in_use(plan: OutagePlan) -> frozenset[str]:
    """Repeaters the net runs over."""
    taking_part = set(plan.in_net)
    return frozenset(w.over for w in plan.ways if w.over and w.call_sign in taking_part) | frozenset(
        [plan.hub] if plan.hub else []
    )


def duty_of(plan: OutagePlan, call_sign: str) -> Duty:
    """What a station or repeater does in a plan."""
    if call_sign in plan.standing.repeaters:
        return Duty.REPEATER if call_sign in _in_use(plan) else Duty.UNUSED
    busy = {plan.control, *(plan.plan.relay_calls if plan.plan else ())}
    return Duty.BUSY if call_sign in busy else Duty.MEMBER


def _charges(
    survey: NetSurvey,
    plan: OutagePlan,
    silent: frozenset[str],
    left: Mapping[str, float],
    battery: BatteryRules,
) -> tuple[Charge, ...]:
    found = []
    for call, share in sorted(left.items()):
        duty = duty_of(plan, call)
        hours = _hours(survey, call, duty, battery)
        if hours is not None and call not in silent:
            found.append(Charge(call, duty, share, share * hours))
    return tuple(found)


def _stretch(
    plan: OutagePlan,
    silent: frozenset[str],
    from_h: float,
    until_h: float | None,
    gone: tuple[str, ...],
    charges: tuple[Charge, ...],
) -> Stretch:
    return Stretch(
        from_h=from_h,
        until_h=until_h,
        gone=gone,
        hub=plan.hub,
        control=plan.control,
        willing=plan.willing,
        relays=plan.plan.relay_calls if plan.plan else (),
        in_net=tuple(call for call in plan.in_net if call not in silent),
        charges=charges,
    )


def _breaks(plan: OutagePlan, silent: frozenset[str]) -> bool:
    """Whether the plan cannot go on as it is: somebody with a duty is silent, or only net control is left."""
    relays = plan.plan.relay_calls if plan.plan else ()
    carrying = {plan.control, *relays, *_in_use(plan)}
    idle = any(set(plan.way(relay).serves) <= silent for relay in relays if plan.way(relay).serves)
    return bool(carrying & silent) or idle or len(set(plan.in_net) - silent) < 2


def _without(survey: NetSurvey, outage: Outage, silent: frozenset[str]) -> Outage:
    hubs = frozenset(network.repeater.call_sign for network in survey.repeaters)
    return replace(
        outage, repeaters=outage.repeaters | (silent & hubs), stations=outage.stations | (silent - hubs)
    )
