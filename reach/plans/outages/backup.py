"""The backup plan: what is lost, how the net goes on, who is cut off, and what each single loss costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum

from reach.inputs.planning import BatteryRules
from reach.plans.graph.reachability import reach_graph
from reach.plans.outages.battery import STANDARD_BATTERY, BatteryLife, Duty, battery_life
from reach.plans.outages.failures import (
    ON_SIMPLEX,
    JoinedNetwork,
    Mains,
    NetSurvey,
    Outage,
    Standing,
    joined,
    standing,
)
from reach.plans.outages.gatherings import Gathering, best_gathering, centre_rules, every_gathering
from reach.plans.relays.plan import RelayPlan, plan_relays
from reach.plans.relays.rules import RelayRules


class Part(Enum):
    """What a member is in a backup plan; `value` is how it is said."""

    CONTROL = "net control"
    RELAY = "relay"
    DIRECT = "member"
    RELAYED = "through a relay"
    CUT_OFF = "cut off"
    DARK = "no power"
    ABSENT = "absent"
    LINKED = "internet only"


@dataclass(frozen=True)
class MemberWay:
    """One member in a backup plan.

    via : the relays it goes through, nearest first; () when it works the hub itself, or is not in the net.
    over : the repeater it calls on, '' on simplex. serves : whom it relays for. near_miss : why it is cut
    off.
    chance : of its whole way to the hub; 0 when not in the net.
    """

    call_sign: str
    part: Part
    via: tuple[str, ...] = ()
    second: tuple[str, ...] = ()
    over: str = ON_SIMPLEX
    serves: tuple[str, ...] = ()
    chance: float = 0.0
    near_miss: str = ""


@dataclass(frozen=True)
class RepeaterService:
    """One repeater that still works, and who works it both ways."""

    call_sign: str
    works: tuple[str, ...]


@dataclass(frozen=True)
class Endurance:
    """From this many hours after the mains failed, so many are left in the net; `gone` then ran out."""

    from_h: float
    in_net: int
    gone: tuple[str, ...]


@dataclass(frozen=True)
class OutagePlan:
    """How the net goes on under one outage.

    hub : the repeater the net gathers on, '' for simplex. control : net control, '' when there is no net.
    ways : every member of the roster. services : repeaters left. plan : relays around the hub, None without
    a net.
    before : how many were in the net with nothing lost. total : members with a radio path.
    advice : what would make a net where there is none.
    batteries, endurance : with the mains lost; hours of everyone left and what becomes of the net.
    """

    outage: Outage
    standing: Standing
    hub: str
    control: str
    ways: tuple[MemberWay, ...]
    services: tuple[RepeaterService, ...]
    plan: RelayPlan | None
    before: int
    total: int
    advice: str = ""
    batteries: tuple[BatteryLife, ...] = ()
    endurance: tuple[Endurance, ...] = ()

    @property
    def in_net(self) -> tuple[str, ...]:
        """Who takes part, net control included, by call sign."""
        return self._with(Part.CONTROL, Part.RELAY, Part.DIRECT, Part.RELAYED)

    @property
    def cut_off(self) -> tuple[str, ...]:
        """Who has power and is there, but does not get into the net."""
        return self._with(Part.CUT_OFF)

    def way(self, call_sign: str) -> MemberWay:
        """One member's part; KeyError when unknown."""
        for way in self.ways:
            if way.call_sign == call_sign.upper():
                return way
        raise KeyError(call_sign)

    def _with(self, *parts: Part) -> tuple[str, ...]:
        return tuple(way.call_sign for way in self.ways if way.part in parts)

    @property
    def sentence(self) -> str:
        """The answer in one sentence: how many now, how many before, through whom, who not."""
        now = len(self.in_net)
        start = f"{self.outage.words}: {now} of {self.total} can take part"
        if self.outage != Outage():
            start += f" ({self.before} with nothing lost)"
        if self.plan is None and self.outage == Outage():
            return f"{self.outage.words}, and yet there is no net: nobody can bring two stations together."
        if self.plan is None:
            whole = f"with nothing lost {self.before} of {self.total} take part"
            return f"{self.outage.words}: there is no net ({whole})."
        relayed = self._through_relays()
        direct = now - len(relayed)
        if self.hub:
            parts = [f"{direct} on {self.hub}"]
        else:
            parts = [f"{self.control} as net control works {direct - 1} directly on simplex"]
        if relayed:
            count = len(self.plan.relay_calls)
            who = f"{count} relay{'' if count == 1 else 's'} ({', '.join(self.plan.relay_calls)})"
            parts.append(f"{len(relayed)} more through {who}")
        ends = []
        if self.standing.dark:
            ends.append(f"{len(self.standing.dark)} off the air without backup power")
        if self.cut_off:
            ends.append(f"cut off: {', '.join(self.cut_off)}")
        return "; ".join([f"{start}: {' and '.join(parts)}", *ends]) + "."

    def _through_relays(self) -> tuple[str, ...]:
        return tuple(way.call_sign for way in self.ways if way.via)


def likely_outages(survey: NetSurvey) -> tuple[Outage, ...]:
    """Nothing lost; each repeater; all of them; the mains; the mains and all repeaters. None comes twice."""
    calls = [network.repeater.call_sign for network in survey.repeaters]
    everyone = frozenset(calls)
    wanted = [
        Outage(),
        *(Outage(repeaters=frozenset([call])) for call in calls),
        Outage(repeaters=everyone),
        Outage(mains=Mains.LOST),
        Outage(repeaters=everyone, mains=Mains.LOST),
    ]
    found: dict[tuple[tuple[str, ...], tuple[str, ...], Mains], Outage] = {}
    for outage in wanted:
        left = standing(survey, outage)
        found.setdefault((left.members, left.repeaters, outage.mains), outage)
    return tuple(found.values())


def plan_outages(
    survey: NetSurvey, outages: Sequence[Outage], rules: RelayRules, battery: BatteryRules
) -> tuple[OutagePlan, ...]:
    """The plan for each outage. Raises : KeyError for a call sign the net does not know."""
    return tuple(plan_outage(survey, outage, rules, battery) for outage in outages)


def plan_outage(
    survey: NetSurvey, outage: Outage, rules: RelayRules, battery: BatteryRules = STANDARD_BATTERY
) -> OutagePlan:
    """How the net goes on under one outage: the best hub, its exact relay plan, and who is cut off.

    Raises : KeyError for a call sign the net does not know.
    """
    left = standing(survey, outage)
    whole = best_gathering(survey, Outage(), rules)
    before = len(whole.members) if whole else 0
    hub = best_gathering(survey, outage, rules)
    services = _services(survey, left, rules)
    if hub is None:
        ways = _no_ways(left)
        made = OutagePlan(
            outage,
            left,
            "",
            "",
            ways,
            services,
            None,
            before,
            len(survey.call_signs),
            _advice(survey, left, rules),
        )
    else:
        network = joined(survey, left, rules, hub=hub.repeater)
        plan = plan_relays(network.network, centre_rules(rules, repeater=hub.repeater), control=hub.centre)
        made = OutagePlan(
            outage=outage,
            standing=left,
            hub=hub.repeater,
            control=hub.control,
            ways=_ways(left, network, plan, hub),
            services=services,
            plan=plan,
            before=before,
            total=len(survey.call_signs),
        )
    if outage.mains is Mains.ON:
        return made
    batteries = _batteries(survey, made, battery)
    return replace(made, batteries=batteries, endurance=_endurance(survey, made, batteries, rules))


def _services(survey: NetSurvey, left: Standing, rules: RelayRules) -> tuple[RepeaterService, ...]:
    found = []
    for call in left.repeaters:
        network = joined(survey, left, rules, hub=call).network
        graph = reach_graph(network, rules.threshold)
        at = graph.index(call)
        found.append(
            RepeaterService(call, tuple(c for k, c in enumerate(graph.call_signs) if graph.two_way[at, k]))
        )
    return tuple(found)


def _ways(left: Standing, network: JoinedNetwork, plan: RelayPlan, hub: Gathering) -> tuple[MemberWay, ...]:
    serves = {duty.call_sign: duty.serves for duty in plan.relays}
    relayed = {station.call_sign: station for station in plan.relayed}
    misses = {out.call_sign: out.words for out in plan.left_out}
    ways = []
    for call in left.members:
        if call in misses:
            ways.append(MemberWay(call, Part.CUT_OFF, near_miss=misses[call]))
            continue
        part = Part.CONTROL if call == hub.control else Part.RELAY if call in serves else Part.DIRECT
        if call == hub.centre:
            ways.append(MemberWay(call, part, serves=serves.get(call, ()), chance=1.0))
        elif call in relayed:
            station = relayed[call]
            ways.append(
                MemberWay(
                    call,
                    part if part is not Part.DIRECT else Part.RELAYED,
                    via=station.via,
                    second=station.second,
                    over=network.way(call, station.via[0]),
                    serves=serves.get(call, ()),
                    chance=station.chance,
                )
            )
        else:
            link = min(
                network.network.link(call, hub.centre).chance, network.network.link(hub.centre, call).chance
            )
            over = network.way(call, hub.centre)
            ways.append(MemberWay(call, part, over=over, serves=serves.get(call, ()), chance=link))
    return tuple(sorted((*ways, *_out(left)), key=lambda way: way.call_sign))


def _no_ways(left: Standing) -> tuple[MemberWay, ...]:
    cut = [MemberWay(call, Part.CUT_OFF) for call in left.members]
    return tuple(sorted((*cut, *_out(left)), key=lambda way: way.call_sign))


def _out(left: Standing) -> list[MemberWay]:
    groups = ((left.dark, Part.DARK), (left.absent, Part.ABSENT), (left.linked, Part.LINKED))
    return [MemberWay(call, part) for calls, part in groups for call in calls]


def _advice(survey: NetSurvey, left: Standing, rules: RelayRules) -> str:
    """Why there is no net, and who could make one by being willing, or by having backup power."""
    if not left.members:
        if left.dark:
            return (
                "Nobody has backup power: no station is left on the air. Write what each has in the "
                "roster's backup column, e.g. 8 h or 12 Ah; a station willing to be net control and the "
                "relays are where to begin."
            )
        return "Nobody is left on the air."
    if len(left.members) == 1:
        return f"Only {left.members[0]} is left on the air."
    candidates = []
    for call in left.members:
        alone = replace(rules, control_candidates=(call,))
        hubs = every_gathering(_willing(survey, call), left, alone)
        candidates += [hub for hub in hubs if hub.control == call and len(hub.members) > 1]
    if candidates:
        best = min(candidates, key=lambda hub: hub.order)
        willing = survey.net.station(best.control).willing_control
        reason = "was a candidate" if willing else "were willing"
        return (
            "Nobody left on the air who is willing to be net control can bring two together; if "
            f"{best.control} {reason} to be net control, {len(best.members)} would be in the net."
        )
    return "No two of the stations left can be brought together, whoever were willing."


def _willing(survey: NetSurvey, call_sign: str) -> NetSurvey:
    net = survey.net
    stations = tuple(
        replace(s, willing_control=True) if s.call_sign == call_sign else s for s in net.stations
    )
    return replace(survey, simplex=replace(survey.simplex, net=replace(net, stations=stations)))


def _batteries(survey: NetSurvey, made: OutagePlan, rules: BatteryRules) -> tuple[BatteryLife, ...]:
    busy = {made.control, *(made.plan.relay_calls if made.plan else ())}
    lives = [battery_life(survey.net.repeater(call), rules) for call in made.standing.repeaters]
    for call in made.standing.members:
        duty = Duty.BUSY if call in busy else Duty.MEMBER
        lives.append(battery_life(survey.net.station(call), rules, duty=duty))
    return tuple(lives)


def _endurance(
    survey: NetSurvey, made: OutagePlan, lives: Sequence[BatteryLife], rules: RelayRules
) -> tuple[Endurance, ...]:
    """The net as one battery after the other runs out; stations whose hours are not known are kept."""
    steps = [Endurance(0.0, len(made.in_net), ())]
    hubs = {network.repeater.call_sign for network in survey.repeaters}
    outage = made.outage
    for hour in sorted({life.hours for life in lives if life.hours is not None}):
        gone = tuple(sorted(life.call_sign for life in lives if life.hours == hour))
        outage = replace(
            outage,
            repeaters=outage.repeaters | (set(gone) & hubs),
            stations=outage.stations | (set(gone) - hubs),
        )
        hub = best_gathering(survey, outage, rules)
        steps.append(Endurance(hour, len(hub.members) if hub else 0, gone))
    return tuple(steps)
