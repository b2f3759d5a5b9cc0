"""The search for relay sites: reads, searches, checks the sites path by path, and says who is linked how."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reach.commands.net_folder import open_terrain
from reach.commands.options import deliver, progress_bar, say, speaks_text
from reach.commands.site_options import AskedArea, Outputs, SearchArea, members_of, read_area
from reach.errors import Fault, InputProblem, NoPlan
from reach.inputs.club import read_net
from reach.inputs.lookup import find_channel, find_station
from reach.inputs.planning import read_planning
from reach.inputs.portable_kit import portable_relay, relay_words
from reach.inputs.search_area import parse_distance_m
from reach.stations import Net, Station
from reach.terrain.tiles import Terrain

if TYPE_CHECKING:
    from reach.coverage.member_layer import SiteChannels
    from reach.coverage.search_grid import Candidates
    from reach.drawings.machine import Sheet
    from reach.plans.portable_sites import LinkTask, SiteLinks, SitePlan
    from reach.plans.rules import RelayRules

VISIT = (
    "Road access, the owner's permission and what stands there are not known to this search: look at a map, "
    "ask, and visit before the day."
)
MAST = (
    "Put no mast where it could fall on a power line or one could fall on it; not on high ground in a "
    "thunderstorm. Guy it, keep people out from under it, and follow your licence for unattended relays."
)


@dataclass(frozen=True)
class AskedRelays:
    """The relays and the goal as typed."""

    goal: str
    linked: tuple[str, ...]
    together: int
    tie: str
    apart: str | None
    mast: str
    power: str
    antenna: str
    channel: str | None
    talk: str | None
    best: int


@dataclass(frozen=True)
class SiteRecord:
    """One site in the JSON. use : 'chosen' or 'alternative'; works : members both ways, strongest first."""

    name: str
    use: str
    latitude_deg: float
    longitude_deg: float
    locator: str
    elevation_m: float
    works: tuple[str, ...]
    works_by_sweep: tuple[str, ...]
    works_other_sites: tuple[str, ...]
    links: Any


@dataclass(frozen=True)
class SitesAnswer:
    """The JSON of a search."""

    headline: str
    goal: str
    relay: str
    channels: str
    threshold: str
    wanted: tuple[str, ...]
    linked: tuple[str, ...]
    candidate_cells: int
    distinct_sets: int
    proofs: tuple[str, ...]
    sites: tuple[SiteRecord, ...]


def search_sites(folder: Path, asked: AskedRelays, asked_area: AskedArea, outputs: Outputs) -> None:
    """Search, check, deliver, say. Raises : ReachError of every kind the parts raise."""
    from reach.coverage.member_layer import SiteChannels, member_layer
    from reach.coverage.search_grid import candidate_cells, search_grid
    from reach.plans.portable_sites import Tie, linked_by, plan_sites, survey_sites
    from reach.plans.rules import rules_of

    net = read_net(folder)
    planning = read_planning(folder)
    rules = rules_of(planning)
    area = read_area(asked_area, net)
    relay = portable_relay(mast=asked.mast, power=asked.power, antenna=asked.antenna)
    apart_m = 0.0 if asked.apart is None else parse_distance_m(asked.apart)
    listen = find_channel(net, asked.channel)
    channels = SiteChannels(listen, listen if asked.talk is None else find_channel(net, asked.talk))
    members = [station for station in net.stations if station.has_radio_path]
    for call in asked.linked:
        if not find_station(net, call).has_radio_path:
            raise InputProblem(
                Fault(f"{call} is linked over the internet and has no radio path", "name another")
            )
    with open_terrain(net) as terrain:
        check_over_tiles(area, terrain)
        task = _task(asked, net, terrain, channels, rules)
        grid = search_grid(
            terrain, outline=area.outline, margin_m=area.margin_m, members=members_of(net), cell_m=area.cell_m
        )
        candidates = candidate_cells(grid, area.limits)
        with progress_bar(f"sweeps on {channels.words}") as progress:
            layer = member_layer(
                grid,
                members,
                relay,
                channels,
                rules.threshold,
                net,
                decisive=task.decisive,
                progress=progress,
            )
        plan = plan_sites(
            layer,
            candidates,
            task,
            count=asked.together,
            tie=Tie(asked.tie),
            apart_m=apart_m,
            singles=asked.best,
        )
        chosen = plan.together or plan.singles[:1]
        others = [site for site in plan.singles if site not in chosen]
        names = [f"site {i}" for i in range(1, len(chosen) + 1)]
        names += [f"alternative {i}" for i in range(1, len(others) + 1)]
        with progress_bar("sites path by path") as progress:
            surveyed = survey_sites(
                [*chosen, *others], names, relay, channels, rules.threshold, net, terrain, progress=progress
            )
        if not plan.together:
            # ranked again by what single paths say; the order of the search breaks ties
            surveyed = tuple(
                replace(site, name=name)
                for site, name in zip(
                    sorted(surveyed, key=lambda site: -len(linked_by(task, [site.works]))), names
                )
            )
        report = _Report(
            net, task, plan, surveyed[: len(chosen)], surveyed[len(chosen) :], relay, channels, rules
        )
        warnings = tuple(
            dict.fromkeys(
                (*net.warnings, *planning.warnings, *terrain.warnings, *report.warnings(candidates))
            )
        )
        notes = report.notes(area)
        if outputs.map_file is not None:
            page = report.page(layer, terrain, notes=notes, warnings=warnings)
            deliver(page, outputs.map_file, existing=outputs.existing)
    report.deliver(outputs, notes=notes, warnings=warnings)


def check_over_tiles(area: SearchArea, terrain: Terrain) -> None:
    """Refuse an area no tile touches before long work. Raises : NoPlan."""
    from reach.geodesy import destination

    latitudes, longitudes = [], []
    for place in area.outline:
        for bearing_deg in (0.0, 90.0, 180.0, 270.0):
            lat, lon = destination(
                latitude_deg=place.latitude_deg,
                longitude_deg=place.longitude_deg,
                bearing_deg=bearing_deg,
                distance_m=area.margin_m,
            )
            latitudes.append(float(lat))
            longitudes.append(float(lon))
    box = (min(longitudes), min(latitudes), max(longitudes), max(latitudes))
    if any(tile.touches(*box, margin_px=1.0) for tile in terrain.tiles):
        return
    raise NoPlan(
        f"the area searched (latitude {box[1]:.3f} to {box[3]:.3f}, longitude {box[0]:.3f} to "
        f"{box[2]:.3f}) lies "
        "outside the elevation tiles; add tiles that cover it, or move the polygon, the place or "
        "the distance."
    )


def _task(
    asked: AskedRelays, net: Net, terrain: Terrain, channels: SiteChannels, rules: RelayRules
) -> LinkTask:
    from reach.links.survey import survey_simplex
    from reach.plans.net_control import plan_best
    from reach.plans.portable_sites import cut_off_task, groups_task, most_task, named_task
    from reach.plans.reachability import components, reach_graph

    if asked.linked:
        return named_task([find_station(net, call).call_sign for call in asked.linked])
    if asked.goal == "most":
        return most_task(net)
    with progress_bar(f"paths on {channels.listen.frequency_mhz:g} MHz") as progress:
        network = survey_simplex(net, terrain, channels.listen, progress=progress)
    if asked.goal == "groups":
        return groups_task(components(reach_graph(network, rules.threshold)))
    return cut_off_task(net, [out.call_sign for out in plan_best(network, rules).left_out])


@dataclass(frozen=True)
class _Report:
    """A finished search and every way it is told."""

    net: Net
    task: LinkTask
    plan: SitePlan
    chosen: Sequence[SiteLinks]
    others: Sequence[SiteLinks]
    relay: Station
    channels: SiteChannels
    rules: RelayRules

    @property
    def linked(self) -> tuple[str, ...]:
        """Wanted members linked, path by path."""
        from reach.plans.portable_sites import linked_by

        return linked_by(self.task, [site.works for site in self.chosen])

    @property
    def missed(self) -> tuple[str, ...]:
        linked = set(self.linked)
        return tuple(call for call in self.task.wanted if call not in linked)

    @property
    def headline(self) -> str:
        from reach.plans.portable_sites import Goal

        many = len(self.chosen) > 1
        where = " and ".join(_place(site) for site in self.chosen)
        start = f"{len(self.chosen)} portable relays, at {where}," if many else f"A portable relay at {where}"
        verb = "together link" if many else "links"
        total, done = len(self.task.wanted), len(self.linked)
        if self.task.goal is Goal.GROUPS:
            met = sum(1 for group in self.task.groups if set(group) & set(self.linked))
            text = f"{start} {verb} {met} of {len(self.task.groups)} groups, {done} of {total} members in all"
        elif self.task.goal is Goal.CUT_OFF:
            text = f"{start} {'bring' if many else 'brings'} in {done} of the {total} cut off"
        elif self.task.goal is Goal.NAMED:
            text = f"{start} {verb} {done} of the {total} named"
        else:
            text = f"{start} {verb} {done} of {total} members"
        if self.missed:
            text += f"; not {', '.join(self.missed)}"
        return text + "."

    def warnings(self, candidates: Candidates) -> list[str]:
        found = []
        if candidates.unknown_share > 0.0005:
            found.append(
                f"{candidates.unknown_share:.0%} of the area searched has no elevation and was left out."
            )
        for site in (*self.chosen, *self.others):
            if site.lost:
                found.append(
                    f"{site.name}: the search counted {', '.join(site.lost)}, the path by itself does not "
                    f"reach {self.rules.threshold.words}; close to the edge, so test it."
                )
        if self.net.land_cover is not None:
            found.append(
                "the search itself is over bare ground; trees and buildings of the land cover "
                "count only in the "
                "single paths of the sites shown."
            )
        unproven = [proof.words for proof in self.plan.proofs[:1] if not proof.proven]
        return found + [f"the choice may not be the best: {words}." for words in unproven]

    def notes(self, area: SearchArea) -> tuple[str, ...]:
        from reach.links.assumed import assumed_notes

        return (
            f"The relay: {relay_words(self.relay)}; {self.channels.words}; a link counts at "
            f"{self.rules.threshold.words}.",
            f"Searched {self.plan.candidates:,} cells of {area.cell_m:g} m: delta-Bullington (ITU-R "
            "P.526) over "
            "bare ground; the sites shown were then worked path by path with the net's own model. "
            "Sea is left "
            "out, lakes are not known.",
            VISIT,
            MAST,
            *assumed_notes(self.net),
        )

    def page(self, layer: Any, terrain: Terrain, *, notes: Sequence[str], warnings: Sequence[str]) -> str:
        from reach.drawings.ground import places_of, relief_around
        from reach.drawings.site_map import count_overlay, site_map

        places = [*places_of(self.net), *(site.site.position for site in self.chosen)]
        return site_map(
            self.net,
            self.chosen,
            others=self.others,
            headline=self.headline,
            missed=self.missed,
            overlays=[count_overlay(layer)],
            first=f"Portable relay on {self.channels.words}: {relay_words(self.relay)}.",
            relief=relief_around(terrain, places),
            notes=notes,
            warnings=warnings,
        )

    def deliver(self, outputs: Outputs, *, notes: tuple[str, ...], warnings: tuple[str, ...]) -> None:
        from reach.commands.results import NetAnswer
        from reach.drawings.cautions import SHORT
        from reach.drawings.machine import json_text
        from reach.drawings.tables import answer, notes_text
        from reach.drawings.waypoints import gpx_text

        waypoints = gpx_text([_waypoint(site) for site in (*self.chosen, *self.others)], title=self.headline)
        deliver(waypoints, outputs.gpx_file, existing=outputs.existing)
        text = json_text(NetAnswer(self.net.name, self._answer(), notes, warnings))
        deliver(text, outputs.json_file, existing=outputs.existing)
        deliver(self._sheet().csv_text(), outputs.csv_file, existing=outputs.existing)
        if speaks_text(outputs.map_file, outputs.gpx_file, outputs.json_file, outputs.csv_file):
            say(answer(self.headline), notes_text([""]), self._site_table(), notes_text([""]))
            for site in self.chosen:
                say(_link_table(site), notes_text([""]))
            say(notes_text([*warnings, *notes, SHORT]))

    def _answer(self) -> SitesAnswer:
        from reach.inputs.locators import locator_of

        return SitesAnswer(
            headline=self.headline,
            goal=self.task.goal.value,
            relay=relay_words(self.relay),
            channels=self.channels.words,
            threshold=self.rules.threshold.words,
            wanted=self.task.wanted,
            linked=self.linked,
            candidate_cells=self.plan.candidates,
            distinct_sets=self.plan.patterns,
            proofs=tuple(proof.words for proof in self.plan.proofs),
            sites=tuple(
                SiteRecord(
                    site.name,
                    "chosen" if site in self.chosen else "alternative",
                    round(site.site.position.latitude_deg, 6),
                    round(site.site.position.longitude_deg, 6),
                    locator_of(site.site.position, characters=8),
                    round(site.site.elevation_m, 1),
                    site.works,
                    site.site.reaches,
                    site.other_sites,
                    site.links,
                )
                for site in (*self.chosen, *self.others)
            ),
        )

    def _sheet(self) -> Sheet:
        from reach.drawings.machine import Sheet
        from reach.inputs.locators import locator_of

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
            for site in (*self.chosen, *self.others)
            for link in site.links
        )
        return Sheet(
            (
                *("site", "latitude_deg", "longitude_deg", "locator", "elevation_m", "member"),
                *("works_both_ways", "distance_km", "site_hears_member_margin_db"),
                *("member_hears_site_margin_db", "chance", "grade"),
            ),
            rows,
        )  # fmt: skip

    def _site_table(self) -> Any:
        from reach.drawings.site_map import coordinates
        from reach.drawings.tables import quiet_table
        from reach.inputs.locators import locator_of
        from reach.links.words import margin_in_words
        from reach.plans.portable_sites import linked_by

        rows = []
        for site in (*self.chosen, *self.others):
            works = [link for link in site.links if link.works]
            weakest = min(works, key=lambda link: link.weaker.margin_db, default=None)
            rows.append(
                (
                    site.name,
                    coordinates(site.site.position),
                    locator_of(site.site.position, characters=8),
                    f"{site.site.elevation_m:.0f}",
                    f"{len(works)}",
                    f"{len(linked_by(self.task, [site.works]))}",
                    ""
                    if weakest is None
                    else f"{weakest.call_sign} {margin_in_words(weakest.weaker.margin_db)}",
                    ", ".join(name for name in site.other_sites if name.startswith("site")),
                )
            )
        columns = (
            ("place", "left"), ("latitude, longitude", "left"), ("locator", "left"), ("ground m", "right"),
            ("works", "right"), ("links", "right"), ("weakest", "left"), ("works sites", "left"),
        )  # fmt: skip
        skipped = 8 if len(self.chosen) > 1 else 7
        return quiet_table("Sites, best first", columns[:skipped], [row[:skipped] for row in rows])


def _place(site: SiteLinks) -> str:
    from reach.drawings.site_map import coordinates
    from reach.inputs.locators import locator_of

    return f"{coordinates(site.site.position)} ({locator_of(site.site.position, characters=8)})"


def _waypoint(site: SiteLinks) -> Any:
    from reach.drawings.waypoints import Waypoint

    works = f"works {len(site.works)}: {', '.join(site.works)}" if site.works else "works nobody"
    caution = "Prediction only: test on the air; ask the owner; keep clear of power lines."
    return Waypoint(
        site.site.position,
        site.name,
        f"Portable relay {works}. {caution}",
        site.site.elevation_m,
    )


def _link_table(site: SiteLinks) -> Any:
    from reach.drawings.tables import quiet_table
    from reach.drawings.words import grade_words, signed
    from reach.links.words import chance_in_words

    rows = [
        (
            link.call_sign,
            "yes" if link.works else "no",
            chance_in_words(link.chance),
            grade_words(link.weaker.grade),
            signed(link.talk_in.margin_db),
            signed(link.talk_out.margin_db),
            f"{link.talk_in.distance_m / 1000.0:.1f}",
        )
        for link in site.links
    ]
    return quiet_table(
        f"Whom {site.name} works, strongest first",
        (
            ("station", "left"), ("works", "left"), ("chance", "left"), ("grade", "left"),
            ("site hears it dB", "right"), ("it hears site dB", "right"), ("km", "right"),
        ),
        rows,
    )  # fmt: skip
