"""A finished search for relay sites and every way it is told: text, page, waypoints, JSON, CSV."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reach.commands.options import deliver, say, speaks_text
from reach.commands.site_options import Outputs, SearchArea
from reach.drawings.style.cautions import PORTABLE_MAST, VISIT
from reach.inputs.portable_kit import relay_words
from reach.stations import Net, Station
from reach.terrain.tiles import Terrain

if TYPE_CHECKING:
    from reach.answers.sheet import Sheet
    from reach.coverage.search.grid import Candidates
    from reach.coverage.search.member_layer import SiteChannels
    from reach.drawings.maps.page import OnlineTiles
    from reach.plans.relays.rules import RelayRules
    from reach.plans.sites.portable_sites import LinkTask, SitePlan
    from reach.plans.sites.site_links import SiteLinks


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


@dataclass(frozen=True)
class SiteReport:
    """A finished search and every way it is told."""

    net: Net
    task: LinkTask
    plan: SitePlan
    chosen: Sequence[SiteLinks]
    others: Sequence[SiteLinks]
    relay: Station
    channels: SiteChannels
    rules: RelayRules
    asked: int = 1

    @property
    def linked(self) -> tuple[str, ...]:
        """Wanted members linked, path by path."""
        from reach.plans.sites.portable_sites import linked_by

        return linked_by(self.task, [site.works for site in self.chosen])

    @property
    def missed(self) -> tuple[str, ...]:
        linked = set(self.linked)
        return tuple(call for call in self.task.wanted if call not in linked)

    @property
    def headline(self) -> str:
        from reach.plans.sites.portable_sites import Goal

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
            text = f"{start} {'together work' if many else 'works'} {done} of the {total} named"
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
                "The search itself is over bare ground; trees and buildings of the land cover count only in "
                "the single paths of the sites shown."
            )
        if self.plan.together and len(self.chosen) < self.asked:
            found.append(
                f"{self.asked} relays were asked for; more than {len(self.chosen)} would link nobody else "
                "within the limits given."
            )
        unproven = [proof.words for proof in self.plan.proofs[:1] if not proof.proven]
        return found + [f"The choice may not be the best: {words}." for words in unproven]

    def basis(self, area: SearchArea) -> tuple[str, ...]:
        """What the answer rests on and what it does not know."""
        return (
            f"The relay: {relay_words(self.relay)}; {self.channels.words}; a link counts at "
            f"{self.rules.threshold.words}.",
            f"Searched {self.plan.candidates:,} cells of {area.cell_m:g} m: delta-Bullington (ITU-R P.526) "
            "over bare ground; the sites shown were then worked path by path with the net's own model. "
            "Sea is left out, lakes are not known.",
            VISIT,
            PORTABLE_MAST,
        )

    def page(
        self,
        layer: Any,
        terrain: Terrain,
        *,
        notes: Sequence[str],
        warnings: Sequence[str],
        online: OnlineTiles | None,
    ) -> str:
        from reach.drawings.maps.ground import places_of, relief_around
        from reach.drawings.maps.site_map import count_overlay, site_map

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
            online=online,
        )

    def deliver(
        self,
        outputs: Outputs,
        *,
        notes: tuple[str, ...],
        in_short: tuple[str, ...],
        warnings: tuple[str, ...],
    ) -> None:
        """Write the files and say the rest; in_short : the notes as they are said."""
        from reach.commands.results import NetAnswer
        from reach.drawings.exports.machine import json_text, sheet_csv
        from reach.drawings.exports.waypoints import gpx_text
        from reach.drawings.style.cautions import SHORT
        from reach.drawings.tables.terminal import answer, notes_text

        waypoints = gpx_text([_waypoint(site) for site in (*self.chosen, *self.others)], title=self.headline)
        deliver(waypoints, outputs.gpx_file, existing=outputs.existing)
        text = json_text(NetAnswer(self.net.name, self._answer(), notes, warnings))
        deliver(text, outputs.json_file, existing=outputs.existing)
        deliver(sheet_csv(self._sheet()), outputs.csv_file, existing=outputs.existing)
        if speaks_text(outputs.map_file, outputs.gpx_file, outputs.json_file, outputs.csv_file):
            say(answer(self.headline), notes_text([""]), self._site_table(), notes_text([""]))
            for site in self.chosen:
                say(_link_table(site), notes_text([""]))
            say(notes_text([*warnings, *in_short, SHORT]))

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
        from reach.answers.sheet import Sheet
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
        from reach.drawings.maps.site_map import coordinates
        from reach.drawings.tables.terminal import quiet_table
        from reach.inputs.locators import locator_of
        from reach.links.words import margin_in_words
        from reach.plans.sites.portable_sites import linked_by

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
    from reach.drawings.maps.site_map import coordinates
    from reach.inputs.locators import locator_of

    return f"{coordinates(site.site.position)} ({locator_of(site.site.position, characters=8)})"


def _waypoint(site: SiteLinks) -> Any:
    from reach.drawings.exports.waypoints import Waypoint

    works = f"works {len(site.works)}: {', '.join(site.works)}" if site.works else "works nobody"
    caution = "Prediction only: test on the air; ask the owner; keep clear of power lines."
    return Waypoint(
        site.site.position,
        site.name,
        f"Portable relay {works}. {caution}",
        site.site.elevation_m,
    )


def _link_table(site: SiteLinks) -> Any:
    from reach.drawings.style.words import grade_words, signed
    from reach.drawings.tables.terminal import quiet_table
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
