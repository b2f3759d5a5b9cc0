"""The search for relay sites: reads, searches, checks the sites path by path, and says who is linked how."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from reach.commands.net_folder import open_terrain
from reach.commands.options import deliver, progress_bar
from reach.commands.results import assumed_in_short, assumed_notes, said_once
from reach.commands.site_options import AskedArea, Outputs, SearchArea, members_of, read_area
from reach.commands.site_report import SiteReport
from reach.commands.surveys import simplex_paths
from reach.errors import Fault, InputProblem, NoPlan
from reach.inputs.club import read_net
from reach.inputs.lookup import find_channel, find_station
from reach.inputs.planning import read_planning
from reach.inputs.portable_kit import portable_relay
from reach.inputs.search_area import parse_distance_m
from reach.stations import Net
from reach.terrain.tiles import Terrain

if TYPE_CHECKING:
    from reach.coverage.search.member_layer import SiteChannels
    from reach.plans.relays.rules import RelayRules
    from reach.plans.sites.portable_sites import LinkTask


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


def search_sites(folder: Path, asked: AskedRelays, asked_area: AskedArea, outputs: Outputs) -> None:
    """Search, check, deliver, say. Raises : ReachError of every kind the parts raise."""
    from reach.coverage.search.grid import candidate_cells, search_grid
    from reach.coverage.search.member_layer import SiteChannels, member_layer
    from reach.coverage.sweep.grid import opened_land_cover
    from reach.plans.relays.rules import rules_of
    from reach.plans.sites.portable_sites import Tie, linked_by, plan_sites
    from reach.plans.sites.site_links import survey_sites

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
        with opened_land_cover(net.land_cover, net.clutter_heights_m) as land_cover:
            grid = search_grid(
                terrain,
                outline=area.outline,
                margin_m=area.margin_m,
                members=members_of(net),
                cell_m=area.cell_m,
                land_cover=land_cover,
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
        first, rest = surveyed[: len(chosen)], surveyed[len(chosen) :]
        report = SiteReport(net, task, plan, first, rest, relay, channels, rules, asked=asked.together)
        warnings = said_once(net.warnings, planning.warnings, terrain.warnings, report.warnings(candidates))
        basis = report.basis(area)
        notes = (*basis, *assumed_notes(net))
        if outputs.map_file is not None:
            page = report.page(layer, terrain, notes=notes, warnings=warnings, online=outputs.online)
            deliver(page, outputs.map_file, existing=outputs.existing)
    report.deliver(outputs, notes=notes, in_short=(*basis, *assumed_in_short(net)), warnings=warnings)


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
        f"the area searched (latitude {box[1]:.3f} to {box[3]:.3f}, longitude {box[0]:.3f} to {box[2]:.3f}) "
        "lies outside the elevation tiles; add tiles that cover it, or move the polygon, the place or the "
        "distance."
    )


def _task(
    asked: AskedRelays, net: Net, terrain: Terrain, channels: SiteChannels, rules: RelayRules
) -> LinkTask:
    from reach.plans.graph.reachability import components, reach_graph
    from reach.plans.relays.net_control import plan_best
    from reach.plans.sites.portable_sites import cut_off_task, groups_task, most_task, named_task

    if asked.linked:
        return named_task([find_station(net, call).call_sign for call in asked.linked])
    if asked.goal == "most":
        return most_task(net)
    network = simplex_paths(net, terrain, channels.listen)
    if asked.goal == "groups":
        return groups_task(components(reach_graph(network, rules.threshold)))
    return cut_off_task(net, [out.call_sign for out in plan_best(network, rules).left_out])
