"""The backup plan: what is lost, how the net goes on, who is cut off, and what each single loss costs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

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
from reach.plans.outages.gatherings import (
    SURE,
    Gathering,
    all_willing,
    asked_gathering,
    best_gathering,
    centre_rules,
    controls_on,
    is_willing,
    meeting_graphs,
)
from reach.plans.relays.plan import RelayPlan, plan_relays
from reach.plans.relays.rules import RelayRules
from reach.stations import Station


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
class StandIn:
    """Who takes over when net control is missing too: net control of the plan made without it.

    hub : the repeater that net gathers on, '' for simplex. in_net : how many are in it, the lost one not
    counted. willing : False when it has to agree first.
    """

    call_sign: str
    hub: str
    in_net: int
    willing: bool


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
    willing: bool = True
    lack: str = ""
    advice: str = ""
    stand_in: StandIn | None = None

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

    def duties(self, call_sign: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """What a station passes traffic on: (repeater or ON_SIMPLEX, for whom), its own way in first."""
        way = self.way(call_sign)
        by: dict[str, tuple[str, ...]] = {}
        for call in way.serves:
            over = self.way(call).over
            by[over] = (*by.get(over, ()), call)
        return tuple(sorted(by.items(), key=lambda item: (item[0] != way.over, item[0])))

    def listens_on(self, call_sign: str) -> tuple[str, ...]:
        """Every repeater (or ON_SIMPLEX) a station in the net has to listen to at once, its own way first."""
        way = self.way(call_sign)
        own = self.hub if way.part is Part.CONTROL else way.over
        return tuple(dict.fromkeys((own, *(over for over, _ in self.duties(call_sign)))))

    @property
    def sentence(self) -> str:
        """The answer in one sentence: what lacks, how many now, how many before, through whom, who not."""
        now = len(self.in_net)
        if self.plan is None and self.outage == Outage():
            return f"{self.outage.words}, and yet there is no net: {_small(self.lack)}"
        if self.plan is None:
            whole = f"with nothing lost {self.before} of {self.total} take part"
            return f"{self.outage.words}: there is no net ({whole}): {_small(self.lack)}"
        start = f"{self.outage.words}: {now} of {self.total} can take part"
        if not self.willing:
            lack = _small(self.lack).rstrip(".")
            start = (
                f"{self.outage.words}: {lack}; if {self.control} agrees to be net control, "
                f"{now} of {self.total} can take part"
            )
        if self.outage != Outage():
            start += f" ({self.before} with nothing lost)"
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
        if self.standing.dark or self.standing.dark_repeaters:
            members = len(self.standing.dark)
            off = [", ".join(self.standing.dark_repeaters)] if self.standing.dark_repeaters else []
            off += [f"{members} member{'' if members == 1 else 's'}"] if members else []
            ends.append(f"{' and '.join(off)} off the air without backup power")
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


def plan_outage(survey: NetSurvey, outage: Outage, rules: RelayRules) -> OutagePlan:
    """How the net goes on under one outage: the best hub, its exact relay plan, who is cut off, the stand-in.

    Raises : KeyError for a call sign the net does not know.
    """
    made = plan_without_stand_in(survey, outage, rules)
    if not made.control:
        return made
    gone = replace(outage, stations=outage.stations | {made.control})
    after = plan_without_stand_in(survey, gone, rules)
    if not after.control:
        return made
    return replace(made, stand_in=StandIn(after.control, after.hub, len(after.in_net), after.willing))


def plan_without_stand_in(survey: NetSurvey, outage: Outage, rules: RelayRules) -> OutagePlan:
    """The same without looking for a stand-in. Raises : KeyError for a call sign the net does not know."""
    left = standing(survey, outage)
    whole = best_gathering(survey, Outage(), rules)
    before = len(whole.members) if whole else 0
    hub = best_gathering(survey, outage, rules)
    total = len(survey.call_signs)
    services = _services(survey, left, rules)
    lack = _lack(survey, left, rules) if hub is None or not hub.willing else ""
    if hub is None:
        ways = _no_ways(left)
        return OutagePlan(
            outage, left, "", "", ways, services, None, before, total, lack=lack, advice=_no_net_advice(left)
        )
    if not hub.willing:
        survey, rules = all_willing(survey), replace(rules, control_candidates=())
    network, plan, hub = _around(survey, left, rules, hub)
    return OutagePlan(
        outage=outage,
        standing=left,
        hub=hub.repeater,
        control=hub.control,
        ways=_ways(left, network, plan, hub),
        services=services,
        plan=plan,
        before=before,
        total=total,
        willing=hub.willing,
        lack=lack,
        advice=_larger_net_advice(survey, outage, rules, hub) if hub.willing else "",
    )


def _around(
    survey: NetSurvey, left: Standing, rules: RelayRules, hub: Gathering
) -> tuple[JoinedNetwork, RelayPlan, Gathering]:
    """The relay plan around a hub. On a repeater, net control is kept free of relaying.

    Where the one in mind would relay, another who gets in surely takes the net; else somebody else relays,
    if nobody is lost by that; else another who gets in at all. Only then is net control both.
    """
    network = joined(survey, left, rules, hub=hub.repeater)
    own = centre_rules(rules, repeater=hub.repeater)
    plan = plan_relays(network.network, own, control=hub.centre)
    if hub.control not in plan.relay_calls:
        return network, plan, hub
    controls = controls_on(network, rules)
    free = [call for call in controls if call not in plan.relay_calls]
    sure = [c for c in free if _pair_chance(network, c, hub.centre) >= SURE]
    if sure:
        return network, plan, replace(hub, control=sure[0])
    spared = _not_relaying(network, hub.control)
    other = plan_relays(spared.network, own, control=hub.centre)
    if other.reached == plan.reached:
        return spared, other, hub
    if free:
        return network, plan, replace(hub, control=free[0])
    return network, plan, hub


def _pair_chance(network: JoinedNetwork, one: str, other: str) -> float:
    both = network.network
    return float(both.chance_both_ways[both.index(one), both.index(other)])


def _not_relaying(network: JoinedNetwork, call_sign: str) -> JoinedNetwork:
    net = network.network.net

    def spared(station: Station) -> Station:
        return replace(station, willing_relay=False) if station.call_sign == call_sign else station

    stations = tuple(spared(station) for station in net.stations)
    return replace(network, network=replace(network.network, net=replace(net, stations=stations)))


def _services(survey: NetSurvey, left: Standing, rules: RelayRules) -> tuple[RepeaterService, ...]:
    found = []
    for meeting in meeting_graphs(survey, left, rules):
        if meeting.repeater:
            serves = meeting.graph.two_way[meeting.graph.index(meeting.repeater)] & meeting.there
            calls = tuple(c for k, c in enumerate(meeting.graph.call_signs) if serves[k])
            found.append(RepeaterService(meeting.repeater, calls))
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


def _small(sentence: str) -> str:
    """A sentence as part of another one; a call sign at its start stays as it is."""
    return sentence if sentence[:2].isupper() else sentence[:1].lower() + sentence[1:]


def _lack(survey: NetSurvey, left: Standing, rules: RelayRules) -> str:
    """Why there is no net, or none under anybody willing: the first thing missing, in a sentence."""
    if not left.members:
        if left.dark:
            return "Nobody has backup power: no station is left on the air."
        return "Nobody is left on the air."
    if len(left.members) == 1:
        return f"Only {left.members[0]} is left on the air."
    radio = [s.call_sign for s in survey.net.stations if s.has_radio_path]
    willing = [call for call in radio if is_willing(survey, call, rules)]
    there = [call for call in willing if call in left.members]
    if not there:
        if rules.control_candidates:
            return f"None of the control candidates ({', '.join(rules.control_candidates)}) is on the air."
        if not willing:
            return 'Nobody is marked willing to be net control (column "control" of the roster).'
        verb = "is" if len(willing) == 1 else "are"
        return f"{', '.join(willing)}, willing to be net control, {verb} off the air."
    if asked_gathering(survey, _outage_of(survey, left), rules):
        return f"{', '.join(there)}, willing to be net control, can bring no two stations together."
    return "No two of the stations left can be brought together, whoever were net control."


def _outage_of(survey: NetSurvey, left: Standing) -> Outage:
    """What is gone, whatever the cause, so that the rest is what is left."""
    hubs = {network.repeater.call_sign for network in survey.repeaters}
    return Outage(
        frozenset(hubs - set(left.repeaters)), frozenset(set(survey.call_signs) - set(left.members))
    )


def _no_net_advice(left: Standing) -> str:
    if not left.members and left.dark:
        return (
            "Write what each has in the roster's backup column, e.g. 8 h or 12 Ah; a station willing to be "
            "net control and the relays are where to begin."
        )
    return ""


def _larger_net_advice(survey: NetSurvey, outage: Outage, rules: RelayRules, hub: Gathering) -> str:
    """Who, not marked willing, would bring more together, if that is so."""
    asked = asked_gathering(survey, outage, rules)
    if asked is None or len(asked.members) <= len(hub.members):
        return ""
    return (
        f"If {asked.control}, not marked willing, agreed to be net control, {len(asked.members)} would be in "
        f"the net in place of {len(hub.members)}."
    )
