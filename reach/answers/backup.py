"""How the net goes on when repeaters, the mains or single stations are gone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reach.answers.open_net import OpenNet
from reach.answers.outages import basis_note, case_rows, planned_cases
from reach.answers.record import Answer
from reach.answers.rules import chosen_rules
from reach.answers.surveys import survey_net
from reach.answers.tonight import tonight_headline
from reach.errors import Fault, InputProblem
from reach.inputs.lookup import find_channel, find_party
from reach.links.assumed import assumed_in_short, assumed_notes
from reach.machinery.progress import Watch, unwatched
from reach.notes import texts
from reach.plans.outages.backup import OutagePlan
from reach.plans.outages.battery import battery_note
from reach.plans.outages.failures import Mains, NetSurvey, Outage
from reach.plans.outages.remedies import BatteryRemedy, Remedy, best_batteries, remedies
from reach.plans.outages.single_points import SinglePoint, points_sentence, single_points
from reach.stations import Channel, Net, Repeater


@dataclass(frozen=True)
class BackupFigures:
    """The backup plan for machines: for each case a sentence, a plan, remedies and batteries that help;
    single losses."""

    channel: str
    headlines: tuple[str, ...]
    cases: tuple[OutagePlan, ...]
    remedies: tuple[tuple[Remedy, ...], ...]
    batteries_more: tuple[tuple[BatteryRemedy, ...], ...]
    single_losses: tuple[SinglePoint, ...]


@dataclass(frozen=True, kw_only=True)
class BackupAnswer(Answer):
    """plans : nothing lost first, then case by case; remedies, batteries : for each of them.

    single_losses : what each costs on top of a case, worst first. basis : what the plans stand on.
    """

    survey: NetSurvey
    plans: tuple[OutagePlan, ...]
    remedies: tuple[tuple[Remedy, ...], ...]
    batteries: tuple[tuple[BatteryRemedy, ...], ...]
    single_losses: tuple[SinglePoint, ...]
    basis: tuple[str, ...]

    @property
    def channel(self) -> Channel:
        """The simplex channel of the plans."""
        return self.survey.simplex.channel

    @property
    def headlines(self) -> tuple[str, ...]:
        """Each case in a sentence."""
        first, *others = (plan.sentence for plan in self.plans)
        return tonight_headline(self.net, first), *others

    @property
    def losses_sentence(self) -> str:
        """How many single losses cost others the net, and the worst of them."""
        return points_sentence(self.single_losses, self.plans)

    @property
    def figures(self) -> BackupFigures:
        """As Answer.figures."""
        return BackupFigures(
            self.channel.name, self.headlines, self.plans, self.remedies, self.batteries, self.single_losses
        )


def backup(
    opened: OpenNet,
    *,
    down: Sequence[str] = (),
    mains: Mains = Mains.ON,
    channel: str | None = None,
    watch: Watch = unwatched,
) -> BackupAnswer:
    """The net with nothing lost, and with what is asked about; with the likely losses when nothing is.

    down : call signs of repeaters and members lost. channel : by name or frequency; the net's first unless
    named.
    Raises : InputProblem for what is not in the net; MissingTerrain; OutOfRange.
    """
    net, battery = opened.net, opened.folder.planning.battery
    rules = chosen_rules(opened.folder)
    on = find_channel(net, channel)
    asked = asked_outage(net, down, mains=mains)
    survey = survey_net(opened, on, watch=watch)
    plans = planned_cases(survey, rules, battery, asked=asked)
    with watch("single losses") as progress:
        points = single_points(survey, plans, rules, progress=progress)
    return BackupAnswer(
        net=net,
        headline=tonight_headline(net, plans[-1].sentence),
        assumed=assumed_notes(net),
        in_short=assumed_in_short(net),
        remedies=tuple(remedies(survey, plan, rules, terrain=opened.terrain) for plan in plans),
        batteries=tuple(best_batteries(survey, plan, rules) for plan in plans),
        warnings=texts(opened.warnings, survey.warnings),
        rows=case_rows(plans),
        survey=survey,
        plans=plans,
        single_losses=points,
        basis=(basis_note(rules), battery_note(battery)),
    )


def asked_outage(net: Net, down: Sequence[str], *, mains: Mains) -> Outage:
    """The outage a user named. Raises : InputProblem with every call sign the net does not know."""
    faults: list[Fault] = []
    repeaters, stations = set[str](), set[str]()
    for call in down:
        try:
            party = find_party(net, call)
        except InputProblem as problem:
            faults += problem.faults
            continue
        (repeaters if isinstance(party, Repeater) else stations).add(party.call_sign)
    if faults:
        raise InputProblem(faults)
    return Outage(frozenset(repeaters), frozenset(stations), mains)


def endurance_sentence(plan: OutagePlan) -> str:
    """'15 in the net at first; 13 after 5.9 h; no net after 86 h.' Steps that print alike are one."""
    said: dict[str, int] = {}
    for step in plan.endurance:
        when = f"{step.from_h:.0f}" if step.from_h >= 9.5 else f"{step.from_h:.1f}"
        said[when] = step.in_net
    words, last = [], -1
    for when, count in said.items():
        if count != last:
            number = str(count) if count else "no net"
            words.append(f"{number} in the net at first" if when == "0.0" else f"{number} after {when} h")
            last = count
    return "; ".join(words) + "." if words else ""


def battery_remedy_sentence(found: Sequence[BatteryRemedy]) -> str:
    """The one battery that would help most; '' with nobody in the dark."""
    best = found[0] if found else None
    if best is None or not best.brings:
        return "One battery more would bring nobody in." if found else ""
    equal = [remedy.call_sign for remedy in found if len(remedy.brings) == len(best.brings)]
    if len(best.brings) == 1:
        return f"One battery more brings in one member, its owner: {', '.join(equal)}."
    others = f" (as many as at {', '.join(equal[1:])})" if len(equal) > 1 else ""
    return f"One battery more helps most at {best.call_sign}: {', '.join(best.brings)} come in{others}."
