"""Where a portable relay, or a few of them, link the most members, those cut off, or groups."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from reach.answers.area_heard import members_heard
from reach.answers.open_net import OpenNet
from reach.answers.record import Answer
from reach.answers.sheet import Sheet
from reach.answers.site_search import CellsTold, best_cells
from reach.answers.site_words import (
    area_warnings,
    lost_warnings,
    plan_warnings,
    proof_words,
    sites_basis,
    sites_headline,
)
from reach.answers.surveys import paths_with_places, simplex_paths
from reach.coverage.search.area import searched_cells
from reach.coverage.search.grid import Candidates, SearchGrid
from reach.coverage.search.member_layer import LeftAside, MarginRule, MemberLayer, SiteChannels, member_layer
from reach.errors import Fault, InputProblem, NoPlan
from reach.inputs.locators import locator_of
from reach.inputs.lookup import find_channel, find_station
from reach.inputs.portable_kit import portable_relay, relay_words
from reach.inputs.search_area import SearchArea, TypedArea, members_on_the_air, read_area
from reach.links.assumed import assumed_in_short, assumed_notes
from reach.machinery.progress import Progress, Watch, unwatched
from reach.notes import texts
from reach.plans.graph.reachability import components, reach_graph
from reach.plans.relays.net_control import plan_best, rank_controls
from reach.plans.relays.rules import RelayRules, rules_of
from reach.plans.sites.portable_sites import (
    Goal,
    LinkTask,
    Site,
    SitePlan,
    Tie,
    could_link_more,
    cut_off_task,
    groups_task,
    linked_by,
    most_task,
    named_task,
    plan_sites,
    site_of,
)
from reach.plans.sites.site_links import (
    SiteLink,
    SiteLinks,
    hang_together,
    stand_apart,
    survey_each_site,
    survey_sites,
)
from reach.plans.sites.strongest import expected_heard, grown_choice, rank_of, strongest_choice
from reach.stations import Channel, Net, Station


@dataclass(frozen=True)
class SiteAim:
    """What portable relays are to do.

    named : link these members instead of pursuing the goal. together : how many relays at the same time.
    tie, apart_m : whether several have to hang together, and how far apart they stand at least.
    ranked : how many single sites to rank. Raises : ValueError for Goal.NAMED without anyone named.
    """

    goal: Goal = Goal.MOST
    named: tuple[str, ...] = ()
    together: int = 1
    tie: Tie = Tie.SHARED
    apart_m: float = 0.0
    ranked: int = 5

    def __post_init__(self) -> None:
        if self.goal is Goal.NAMED and not self.named:
            raise ValueError("a goal of members named needs their call signs")


MOST_MEMBERS = SiteAim()
MOST_HOPEFUL = 300  # cells worked beyond the search's best, for what a better path might do there
INSTEAD_APART_M = 1000.0  # between a site and one that would do instead


@dataclass(frozen=True)
class SiteRecord:
    """One site for machines. use : 'chosen' or 'alternative'; works : members both ways, strongest first."""

    name: str
    use: str
    latitude_deg: float
    longitude_deg: float
    locator: str
    elevation_m: float
    works: tuple[str, ...]
    works_by_sweep: tuple[str, ...]
    works_other_sites: tuple[str, ...]
    links: tuple[SiteLink, ...]


@dataclass(frozen=True)
class SitesFigures:
    """A search for relay sites for machines."""

    headline: str
    goal: str
    relay: str
    channels: str
    threshold: str
    wanted: tuple[str, ...]
    linked: tuple[str, ...]
    candidate_cells: int
    proofs_of_search: tuple[str, ...]
    proof: tuple[str, ...]
    expected_heard: float
    net_control: str
    sites: tuple[SiteRecord, ...]


@dataclass(frozen=True, kw_only=True)
class SitesAnswer(Answer):
    """task : who was to be linked; linked : those who are, path by path. chosen : the sites to use, others :
    those that would do instead. layer : whom a relay in each cell reaches; threshold : when a link counts.
    control : who would be net control on simplex, '' for nobody. proof : what is proven of the choice and
    what is not.
    """

    task: LinkTask
    linked: tuple[str, ...]
    plan: SitePlan
    chosen: tuple[SiteLinks, ...]
    others: tuple[SiteLinks, ...]
    relay: Station
    channels: SiteChannels
    threshold: str
    layer: MemberLayer
    control: str
    proof: tuple[str, ...]

    @property
    def missed(self) -> tuple[str, ...]:
        """Wanted members no chosen site links."""
        return tuple(call for call in self.task.wanted if call not in self.linked)

    @property
    def shown(self) -> tuple[SiteLinks, ...]:
        """Every site of the answer, the chosen ones first."""
        return (*self.chosen, *self.others)

    @property
    def figures(self) -> SitesFigures:
        """As Answer.figures."""
        return SitesFigures(
            headline=self.headline,
            goal=self.task.goal.value,
            relay=relay_words(self.relay),
            channels=self.channels.words,
            threshold=self.threshold,
            wanted=self.task.wanted,
            linked=self.linked,
            candidate_cells=self.plan.candidates,
            proofs_of_search=tuple(proof.words for proof in self.plan.proofs),
            proof=self.proof,
            expected_heard=round(expected_heard(self.task, self.chosen), 3),
            net_control=self.control,
            sites=(
                *(_record(site, use="chosen") for site in self.chosen),
                *(_record(site, use="alternative") for site in self.others),
            ),
        )


def sites(
    opened: OpenNet,
    *,
    aim: SiteAim = MOST_MEMBERS,
    area: SearchArea | None = None,
    relay: Station | None = None,
    channel: str | None = None,
    talk: str | None = None,
    told: CellsTold = CellsTold.EVERY,
    watch: Watch = unwatched,
) -> SitesAnswer:
    """The best places for portable relays, searched over a whole area and then worked path by path.

    area : the members' when not given. relay : the usual one on a portable mast.
    channel, talk : what the relay listens on (the net's first channel), and talks on (the same). told : of
    which cells the answer's layer has to tell whom a relay there works; the sites are the same.
    Raises : InputProblem for what is not in the net; NoPlan where nothing can be linked; MissingTerrain;
        OutOfRange; ReachError when the search does not fit into memory.
    """
    net = opened.net
    rules = rules_of(opened.folder.planning)
    area = read_area(TypedArea(), net) if area is None else area
    relay = portable_relay() if relay is None else relay
    listen = find_channel(net, channel)
    channels = SiteChannels(listen, listen if talk is None else find_channel(net, talk))
    named = _named(net, aim.named)
    members = members_on_the_air(net)
    grid, candidates = searched_cells(net, opened.terrain, area, [member.position for member in members])
    task = named_task(named) if named else _task(opened, aim.goal, channels, rules, watch)
    heard = members_heard(opened, members, channels, watch=watch)

    def sweeps(
        on: SearchGrid, wanted: NDArray[np.bool_], aside: LeftAside | None, progress: Progress | None
    ) -> MemberLayer:
        return member_layer(
            on, members, relay, channels, rules.threshold, net, decisive=task.decisive, heard=heard.ends,
            wanted=wanted, aside=aside, progress=progress,
        )  # fmt: skip

    def tried(some: SitePlan) -> tuple[SiteLinks, ...]:
        survey = partial(paths_with_places, opened)
        with watch("sites path by path") as progress:
            return survey_each_site(
                _contenders(some), relay, channels, rules.threshold, net, survey, progress=progress
            )

    found = None
    if told is CellsTold.BEST and aim.together == 1:
        found = best_cells(grid, candidates, task, sweeps, ranked=aim.ranked, tie=aim.tie, watch=watch)
    if found is not None:
        layer, plan = found
        works = tried(plan)
    if found is None or _most_linked(task, works) + 1 < layer.at_least:
        with watch(f"sweeps on {channels.words}") as progress:
            layer = sweeps(grid, candidates.mask, None, progress)
        plan = plan_sites(
            layer, candidates, task, count=aim.together, tie=aim.tie, apart_m=aim.apart_m, singles=aim.ranked
        )
        works = tried(plan)
    worked = _worked(opened, plan, works, layer, candidates, relay, channels, rules.threshold, aim, watch)
    control = _control(opened, listen, rules, watch)
    chosen, others = worked.chosen, worked.others
    linked = linked_by(task, [site.works for site in chosen])
    threshold = rules.threshold.words
    proof = proof_words(plan, linked, asked=aim.together, worked=worked.cells, left=worked.left)
    basis = sites_basis(
        net, plan, proof=proof, relay=relay, channels=channels, threshold=threshold, cell_m=area.cell_m
    )
    return SitesAnswer(
        net=net,
        headline=sites_headline(task, chosen, linked, control=control),
        assumed=(*basis, *assumed_notes(net)),
        in_short=(*basis, *assumed_in_short(net)),
        warnings=texts(
            opened.warnings,
            heard.words,
            area_warnings(candidates),
            lost_warnings([*chosen, *others], threshold=threshold),
            plan_warnings(plan, used=len(chosen), asked=aim.together),
        ),
        rows=_rows([*chosen, *others]),
        task=task,
        linked=linked,
        plan=plan,
        chosen=chosen,
        others=others,
        relay=relay,
        channels=channels,
        threshold=threshold,
        layer=layer,
        control=control,
        proof=proof,
    )


def _named(net: Net, calls: Sequence[str]) -> tuple[str, ...]:
    """Members to link, by call sign. Raises : InputProblem."""
    found = []
    for call in calls:
        member = find_station(net, call)
        if not member.has_radio_path:
            raise InputProblem(
                Fault(f"{call} is linked over the internet and has no radio path", "name another")
            )
        found.append(member.call_sign)
    return tuple(found)


def _task(opened: OpenNet, goal: Goal, channels: SiteChannels, rules: RelayRules, watch: Watch) -> LinkTask:
    """Who is to be linked. Raises : NoPlan where the net as it is leaves nothing to do."""
    if goal is Goal.MOST:
        return most_task(opened.net)
    network = simplex_paths(opened, channels.listen, watch=watch)
    if goal is Goal.GROUPS:
        return groups_task(components(reach_graph(network, rules.threshold)))
    return cut_off_task(opened.net, [out.call_sign for out in plan_best(network, rules).left_out])


@dataclass(frozen=True)
class _Worked:
    """What working sites path by path found. others : those that would do instead; cells : worked; left : not
    worked that might yet link more than the best single one (`could_link_more`), None where not known."""

    chosen: tuple[SiteLinks, ...]
    others: tuple[SiteLinks, ...]
    cells: int
    left: int | None


def _worked(
    opened: OpenNet,
    plan: SitePlan,
    worked: tuple[SiteLinks, ...],
    layer: MemberLayer,
    candidates: Candidates,
    relay: Station,
    channels: SiteChannels,
    rule: MarginRule,
    aim: SiteAim,
    watch: Watch,
) -> _Worked:
    """The sites to use and those that would do instead, path by path by the net's own model. worked : the
    plan's contenders; cells that might link more are worked too."""
    rows = _rivals(plan)
    survey = partial(paths_with_places, opened)
    left: int | None = None
    if aim.together == 1 and not plan.task.groups:  # elsewhere no count of a cell alone bounds what is linked
        hopeful = _hopeful(layer, candidates, plan.task, worked)[:MOST_HOPEFUL].tolist()
        if hopeful:
            more = [site_of(layer, cell, plan.task) for cell in hopeful]
            with watch("sites that might link more") as progress:
                worked += survey_each_site(more, relay, channels, rule, opened.net, survey, progress=progress)
        left = _hopeful(layer, candidates, plan.task, worked).size
    by_cell = {site.site.cell: site for site in worked}
    tie = plan.tie

    def allowed(choice: Sequence[SiteLinks]) -> bool:
        return stand_apart(choice, aim.apart_m) and (tie is Tie.NONE or hang_together(plan.task, choice))

    chosen = grown_choice(plan.task, worked, allowed, count=aim.together)
    if rows:
        of_search = strongest_choice(
            plan.task, [[by_cell[site.cell] for site in row] for row in rows], allowed
        )
        if rank_of(plan.task, of_search) >= rank_of(plan.task, chosen):
            chosen = of_search
    ranked = sorted(worked, key=lambda site: rank_of(plan.task, [site]), reverse=True)
    others: list[SiteLinks] = []
    for site in ranked:
        if len(others) + (0 if aim.together > 1 else 1) >= aim.ranked:
            break
        if stand_apart([site, *chosen, *others], INSTEAD_APART_M):
            others.append(site)
    names = [*(f"site {i}" for i in range(1, len(chosen) + 1))]
    names += [f"alternative {i}" for i in range(1, len(others) + 1)]
    shown = [site.site for site in (*chosen, *others)]
    final = survey_sites(shown, names, relay, channels, rule, opened.net, survey)
    return _Worked(final[: len(chosen)], final[len(chosen) :], len(worked), left)


def _rivals(plan: SitePlan) -> list[tuple[Site, ...]]:
    """For each site to use together, itself and then what may stand in its place."""
    return [(own, *(c for c in row if c != own)) for own, row in zip(plan.together, plan.contenders)]


def _contenders(plan: SitePlan) -> tuple[Site, ...]:
    """Every site that is worked path by path."""
    return tuple(dict.fromkeys((*itertools.chain(*_rivals(plan)), *plan.singles, *plan.alone)))


def _most_linked(task: LinkTask, worked: Sequence[SiteLinks]) -> int:
    return max(len(linked_by(task, [site.works])) for site in worked)


def _hopeful(
    layer: MemberLayer, candidates: Candidates, task: LinkTask, worked: Sequence[SiteLinks]
) -> NDArray[np.int64]:
    """Cells that might link more than the best of those worked."""
    than = _most_linked(task, worked)
    return could_link_more(layer, candidates, than=than, worked=[site.site.cell for site in worked])


def _control(opened: OpenNet, channel: Channel, rules: RelayRules, watch: Watch) -> str:
    """Who would be net control on the channel the relay listens on; '' for nobody."""
    try:
        return rank_controls(simplex_paths(opened, channel, watch=watch), rules)[0].call_sign
    except NoPlan:
        return ""


def _record(site: SiteLinks, *, use: str) -> SiteRecord:
    place = site.site.position
    return SiteRecord(
        site.name,
        use,
        round(place.latitude_deg, 6),
        round(place.longitude_deg, 6),
        locator_of(place, characters=8),
        round(site.site.elevation_m, 1),
        site.works,
        site.site.reaches,
        site.other_sites,
        site.links,
    )


def _rows(found: Sequence[SiteLinks]) -> Sheet:
    """One row a site and member."""
    columns = (
        *("site", "latitude_deg", "longitude_deg", "locator", "elevation_m", "member"),
        *("works_both_ways", "distance_km", "site_hears_member_margin_db"),
        *("member_hears_site_margin_db", "chance", "grade"),
    )
    rows = tuple(
        (
            site.name,
            site.site.position.latitude_deg,
            site.site.position.longitude_deg,
            locator_of(site.site.position, characters=8),
            round(site.site.elevation_m, 1),
            link.call_sign,
            link.works,
            link.talk_in.distance_m / 1000.0,
            link.talk_in.margin_db,
            link.talk_out.margin_db,
            link.chance,
            link.weaker.grade.word,
        )
        for site in found
        for link in site.links
    )
    return Sheet(columns, rows)
