"""How the net goes on when repeaters, the mains or single stations are gone."""

from __future__ import annotations

import datetime
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from reach.answers.made_from import files_words, model_words, planned_words
from reach.answers.open_net import OpenNet
from reach.answers.outages import NOTHING_LOST, Case, basis_note, case_of, case_rows, planned_cases
from reach.answers.record import Answer
from reach.answers.rules import chosen_rules
from reach.answers.site_search import CellsTold
from reach.answers.sites import SiteAim, sites
from reach.answers.surveys import survey_net, varied_survey
from reach.answers.tonight import tonight_headline
from reach.errors import Fault, InputProblem
from reach.inputs.changes import changed_net
from reach.inputs.deeds import Deed
from reach.inputs.lookup import find_channel, find_party
from reach.links.assumed import assumed_in_short, assumed_notes
from reach.machinery.progress import Watch, unwatched
from reach.notes import texts
from reach.plans.outages.backup import OutagePlan
from reach.plans.outages.battery import battery_note
from reach.plans.outages.failures import Mains, NetSurvey, Outage, joined
from reach.plans.outages.gatherings import all_willing
from reach.plans.outages.remedies import BatteryRemedy, Remedy, best_batteries, remedies
from reach.plans.outages.single_points import SinglePoint, points_sentence, single_points
from reach.plans.relays.longer_chains import fewer_relays
from reach.plans.relays.rules import RelayRules
from reach.stations import Channel, Net, Repeater

_AT_SITE = re.compile(r"(?P<call>\S+)\s+at\s+site\s+(?P<number>\d{1,3})", re.IGNORECASE)
MOST_SITES = 20
MOST_SURVEYED = 60  # stations up to which things to do are tried on the whole net surveyed anew


@dataclass(frozen=True)
class CaseChange:
    """What changes do to one case: how many are in the net, who comes in and who falls out by them."""

    letter: str
    outage: str
    before: int
    after: int
    comes_in: tuple[str, ...]
    falls_out: tuple[str, ...]
    control_before: str
    control_after: str


@dataclass(frozen=True)
class BackupFigures:
    """The backup plan for machines: for each case a sentence, a plan, remedies and batteries that help;
    single losses."""

    channel: str
    headlines: tuple[str, ...]
    changes: tuple[str, ...]
    differences: tuple[CaseChange, ...]
    cases: tuple[Case, ...]
    remedies: tuple[tuple[Remedy, ...], ...]
    batteries_more: tuple[tuple[BatteryRemedy, ...], ...]
    single_losses: tuple[SinglePoint, ...]


@dataclass(frozen=True, kw_only=True)
class BackupAnswer(Answer):
    """cases : nothing lost first; remedies, batteries : for each of them.

    single_losses : what each costs on top of a case, worst first. basis : what the plans stand on;
    made_from : date and data of the plans.
    changes : what was tried, as typed; unchanged : the cases of the net as it is, () without changes.
    """

    survey: NetSurvey
    cases: tuple[Case, ...]
    changes: tuple[str, ...]
    unchanged: tuple[Case, ...]
    remedies: tuple[tuple[Remedy, ...], ...]
    batteries: tuple[tuple[BatteryRemedy, ...], ...]
    single_losses: tuple[SinglePoint, ...]
    basis: tuple[str, ...]
    made_from: str

    @property
    def channel(self) -> Channel:
        """The simplex channel of the plans."""
        return self.survey.simplex.channel

    @property
    def plans(self) -> tuple[OutagePlan, ...]:
        """The plan of each case."""
        return tuple(case.plan for case in self.cases)

    @property
    def lacks(self) -> tuple[str, ...]:
        """What keeps the net from going on by itself, each with the cases it is so in."""
        found: dict[str, list[str]] = {}
        for case in self.cases:
            if case.plan.lack:
                found.setdefault(case.plan.lack, []).append(case.letter)
        every = len(self.cases)
        return tuple(
            text if len(letters) == every else f"In {', '.join(letters)}: {text}"
            for text, letters in found.items()
        )

    @property
    def differences(self) -> tuple[CaseChange, ...]:
        """What the changes do to each case that is there before and after."""
        was = {case.plan.outage: case.plan for case in self.unchanged}
        return tuple(
            _difference(case, was[case.plan.outage]) for case in self.cases if case.plan.outage in was
        )

    def case(self, letter: str) -> Case:
        """The case of that letter. Raises : InputProblem naming those there are."""
        return case_of(self.cases, letter)

    @property
    def next_steps(self) -> tuple[str, ...]:
        """What to ask next."""
        return ("More of a case: --case B, of every one: --all. For the wall: --pdf FILE.",)

    def spared_relays(self, case: Case) -> tuple[str, ...]:
        """A line where longer chains would need fewer relays than the plan of this case."""
        plan = case.plan
        if plan.plan is None:
            return ()
        survey = self.survey if plan.willing else all_willing(self.survey)
        network = joined(survey, plan.standing, plan.plan.rules, hub=plan.hub).network
        found = fewer_relays(network, plan.plan)
        return () if found is None else (found.words.replace(": --chains fewest-relays plans so.", "."),)

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
            self.channel.name,
            self.headlines,
            self.changes,
            self.differences,
            self.cases,
            self.remedies,
            self.batteries,
            self.single_losses,
        )


def backup(
    opened: OpenNet,
    *,
    down: Sequence[str] = (),
    mains: Mains = Mains.ON,
    channel: str | None = None,
    changes: Sequence[str] = (),
    stamp: datetime.datetime | None = None,
    watch: Watch = unwatched,
) -> BackupAnswer:
    """The net with nothing lost, and with what is asked about; with the likely losses when nothing is.

    down : call signs of repeaters and members lost. channel : by name or frequency; the net's first unless
    named. changes : made to the net first, as `inputs.changes` reads them; each case is planned without them
    as well. stamp : when the plan is made, None to leave it out.
    Raises : InputProblem for what is not in the net; MissingTerrain; OutOfRange.
    """
    battery = opened.folder.planning.battery
    rules = chosen_rules(opened.folder)
    on = find_channel(opened.net, channel)
    asked = asked_outage(opened.net, down, mains=mains)
    unchanged: tuple[Case, ...] = ()
    if changes:
        changes = _placed(opened, changes, channel, watch)
        unchanged = planned_cases(
            survey_net(opened, on, watch=watch), rules, battery, asked=asked, watch=watch
        )
        opened = replace(opened, folder=replace(opened.folder, net=changed_net(opened.net, changes)))
        asked = asked_outage(opened.net, down, mains=mains)
    net = opened.net
    survey = survey_net(opened, on, watch=watch)
    cases = planned_cases(survey, rules, battery, asked=asked, watch=watch)
    plans = [case.plan for case in cases]
    with watch("single losses") as progress:
        points = single_points(survey, plans, rules, progress=progress)
    return BackupAnswer(
        net=net,
        headline=tonight_headline(
            net, plans[-1].sentence if asked != NOTHING_LOST else cases_sentence(cases)
        ),
        assumed=assumed_notes(net),
        in_short=assumed_in_short(net),
        remedies=_remedies(opened, survey, plans, rules, on, watch),
        batteries=tuple(best_batteries(survey, plan, rules) for plan in plans),
        warnings=texts(opened.warnings, survey.warnings),
        rows=case_rows(cases),
        survey=survey,
        cases=cases,
        changes=tuple(changes),
        unchanged=unchanged,
        single_losses=points,
        made_from=(
            f"{planned_words(stamp)} from {files_words(net)}, {model_words(survey.simplex, rules.threshold)}"
        ),
        basis=(basis_note(rules), battery_note(battery)),
    )


def cases_sentence(cases: Sequence[Case]) -> str:
    """'4 cases: the net goes on in all of them, with 8 of 8 at best and 4 of 8 at worst, in D (...).'"""
    count = len(cases)
    goes = sum(1 for case in cases if case.plan.control)
    total = cases[0].plan.total
    if not goes:
        return f"{count} cases: there is no net in any of them."
    worst = min(cases, key=lambda case: len(case.plan.in_net))
    most = max(len(case.plan.in_net) for case in cases)
    where = "all" if goes == count else str(goes)
    return (
        f"{count} cases: the net goes on in {where} of them; {most} of {total} take part at best, "
        f"{len(worst.plan.in_net)} in {worst.letter} ({worst.plan.outage.words})."
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


def _placed(opened: OpenNet, changes: Sequence[str], channel: str | None, watch: Watch) -> tuple[str, ...]:
    """The changes with "QK3ABC at site 2" said as a position: the second best site of a search.

    Raises : InputProblem for a site the search does not have; as `sites`.
    """
    asked = {text: found for text in changes if (found := _AT_SITE.fullmatch(text.strip()))}
    if not asked:
        return tuple(changes)
    most = max(int(found["number"]) for found in asked.values())
    if not 1 <= most <= MOST_SITES:
        raise InputProblem(
            Fault(f"site {most} is not looked for", f"choose one of site 1 to site {MOST_SITES}")
        )
    aim = SiteAim(ranked=most)
    shown = sites(opened, aim=aim, channel=channel, told=CellsTold.BEST, watch=watch).shown
    placed = []
    for text in changes:
        if text not in asked:
            placed.append(text)
            continue
        number = int(asked[text]["number"])
        if not 1 <= number <= len(shown):
            raise InputProblem(Fault(f"there is no site {number}", f"the search found {len(shown)}"))
        where = shown[number - 1].site.position
        placed.append(f"{asked[text]['call']} at {where.latitude_deg:.5f},{where.longitude_deg:.5f}")
    return tuple(placed)


def _remedies(
    opened: OpenNet,
    survey: NetSurvey,
    plans: Sequence[OutagePlan],
    rules: RelayRules,
    channel: Channel,
    watch: Watch,
) -> tuple[tuple[Remedy, ...], ...]:
    """What brings cut-off members in, case by case; each thing a member can do is surveyed once.

    In a net of more than MOST_SURVEYED stations only the figures that need no new path are computed.
    """
    made: dict[tuple[str, str], NetSurvey] = {}

    def survey_with(deed: Deed) -> NetSurvey:
        key = (deed.station.call_sign, deed.words)
        if key not in made:
            changed = opened.net.exchanged(deed.station)
            made[key] = varied_survey(opened, changed, channel, watch=unwatched)
        return made[key]

    few = len(survey.call_signs) <= MOST_SURVEYED
    by_hand, terrain = (survey_with, opened.terrain) if few else (None, None)
    with watch("what would help") as progress:
        found = []
        for done, plan in enumerate(plans, start=1):
            found.append(remedies(survey, plan, rules, terrain=terrain, survey_with=by_hand))
            progress(done, len(plans))
    return tuple(found)


def _difference(case: Case, was: OutagePlan) -> CaseChange:
    before, after = set(was.in_net), set(case.plan.in_net)
    return CaseChange(
        case.letter,
        case.plan.outage.words,
        len(before),
        len(after),
        tuple(sorted(after - before)),
        tuple(sorted(before - after)),
        was.control,
        case.plan.control,
    )


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
