"""Sites and spots asked for as a notebook would: on the demo club, coarse cells, no command in between."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from reach.answers import site_search
from reach.answers import sites as answers_sites
from reach.answers.open_net import OpenNet, open_net
from reach.answers.site_search import CellsTold
from reach.answers.sites import SiteAim, SitesAnswer, sites
from reach.answers.spots import SpotsAnswer, spots
from reach.answers.surveys import paths_with_places
from reach.coverage.search.member_layer import LeftAside
from reach.demo.folder import make_demo_folder
from reach.drawings.exports.machine import answer_json
from reach.drawings.exports.places import sites_gpx, spots_gpx
from reach.drawings.tables.sites import sites_screen
from reach.drawings.tables.spots import spots_screen
from reach.drawings.tables.terminal import terminal_text
from reach.errors import InputProblem, NoPlan
from reach.geodesy import distance_and_bearing
from reach.inputs.quantities import parse_distance_m
from reach.inputs.search_area import TypedArea, read_area
from reach.links.repeater_survey import survey_repeater
from reach.machinery.progress import Progress
from reach.plans.relays.rules import rules_of
from reach.plans.sites.portable_sites import Goal, Site, linked_by, site_of
from reach.plans.sites.site_links import survey_each_site, survey_sites
from reach.plans.sites.strongest import rank_of
from reach.stations import Position

COARSE = TypedArea(resolution="300 m")


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory, land_shaped_once: None) -> Iterator[OpenNet]:
    folder = tmp_path_factory.mktemp("club")
    make_demo_folder(folder)
    with open_net(folder) as found:
        yield found


@pytest.fixture(scope="module")
def pair(opened: OpenNet) -> SitesAnswer:
    area = read_area(COARSE, opened.net)
    return sites(opened, aim=SiteAim(together=2, apart_m=5000.0, ranked=3), area=area)


@pytest.fixture(scope="module")
def driven(opened: OpenNet) -> SpotsAnswer:
    member = opened.net.station("QK3ALD")
    return spots(opened, "qk3ald", area=read_area(COARSE, opened.net, home=member))


def test_who_is_linked_is_what_the_single_paths_say(pair: SitesAnswer) -> None:
    assert pair.linked == linked_by(pair.task, [site.works for site in pair.chosen])
    assert set(pair.linked) | set(pair.missed) == set(pair.task.wanted)
    assert not set(pair.linked) & set(pair.missed)
    assert all(call in pair.headline for call in pair.missed)


def test_rows_and_figures_tell_of_the_same_sites(pair: SitesAnswer) -> None:
    figures = pair.figures
    assert [site.name for site in figures.sites] == [site.name for site in pair.shown]
    assert [site.use for site in figures.sites].count("chosen") == len(pair.chosen)
    works = {(row["site"], row["member"]) for row in pair.rows.records if row["works_both_ways"]}
    assert works == {(site.name, call) for site in figures.sites for call in site.works}
    told = json.loads(answer_json(pair))
    assert told["answers"]["headline"] == pair.headline and tuple(told["assumed"]) == pair.assumed
    assert any("power line" in text for text in pair.assumed)


def test_a_screen_names_the_sites_used_together(pair: SitesAnswer) -> None:
    text = terminal_text(*sites_screen(pair), width=160)
    assert text.startswith(pair.headline[:60])
    assert ("works sites" in text) == (len(pair.chosen) > 1)
    for site in pair.chosen:
        assert f"Whom {site.name} works, strongest first" in text


def test_waypoints_are_the_sites_in_order(pair: SitesAnswer, driven: SpotsAnswer) -> None:
    names = [point[1].text for point in ElementTree.fromstring(sites_gpx(pair)) if point.tag.endswith("wpt")]
    assert names == [site.name for site in pair.shown]
    names = [
        point[1].text for point in ElementTree.fromstring(spots_gpx(driven)) if point.tag.endswith("wpt")
    ]
    assert names[0] == f"to {driven.spots[0].hub}" and len(names) >= len(driven.spots)


def test_a_search_tells_how_far_it_is(opened: OpenNet) -> None:
    told: dict[str, list[tuple[int, int]]] = {}

    @contextmanager
    def watch(what: str) -> Iterator[Progress]:
        told[what] = []
        yield lambda done, total: told[what].append((done, total))

    area = read_area(TypedArea(resolution="300 m", near="QK3ALD", within="3 km"), opened.net)
    found = sites(opened, aim=SiteAim(Goal.NAMED, named=("qk3yew", "QK3ALD")), area=area, watch=watch)
    assert found.task.wanted == ("QK3YEW", "QK3ALD")
    assert list(told) == [
        "sweeps on 146.52 MHz (two metres)", "sites path by path", "sites that might link more",
        "paths on 146.52 MHz",
    ]  # fmt: skip
    told.pop("paths on 146.52 MHz")  # known since another question, so nothing to tell
    for steps in told.values():
        assert steps and steps[-1][0] == steps[-1][1]


def test_what_cannot_be_asked(opened: OpenNet) -> None:
    with pytest.raises(ValueError, match="need"):
        SiteAim(Goal.NAMED)
    area = read_area(COARSE, opened.net)
    with pytest.raises(InputProblem, match="QK3IVY is linked over the internet"):
        sites(opened, aim=SiteAim(named=("QK3IVY",)), area=area)
    near = [opened.net.station(call) for call in ("QK3ALD", "QK3ASH", "QK3CDR")]  # all in sight of each other
    together = replace(opened, folder=replace(opened.folder, net=replace(opened.net, stations=tuple(near))))
    with pytest.raises(NoPlan, match="already form one group"):
        sites(together, aim=SiteAim(Goal.GROUPS), area=area)
    with pytest.raises(InputProblem, match="cannot get into itself"):
        spots(opened, "QK3ALD", into=("QK3ALD",))


def test_the_nearest_spot_lies_in_the_circle_and_gets_in(driven: SpotsAnswer) -> None:
    assert driven.figures.searched_within == "10000 m of QK3ALD"
    hubs = {party.call_sign for party in driven.parties}
    assert {spot.hub for spot in driven.spots} <= hubs
    distances = [spot.distance_m for spot in driven.spots]
    assert distances == sorted(distances) and distances[-1] <= 10_000.0
    assert all(spot.spare_db >= 0.0 for spot in driven.spots)
    for unmet in hubs - {spot.hub for spot in driven.spots}:
        assert f"nowhere in reach into {unmet}" in driven.headline
    rows = driven.rows.records
    assert sum(row["spot"] == "nearest" for row in rows) == len(driven.spots)
    text = terminal_text(*spots_screen(driven), width=140)
    assert "Where to drive to" in text and "never transmit while driving" in " ".join(text.split())


def test_no_cell_of_a_small_area_is_better_than_the_site_found(opened: OpenNet) -> None:
    """Every cell worked path by path by the net's own model; a larger area never links fewer."""
    best = []
    for within in ("1200 m", "2 km"):
        area = read_area(TypedArea(resolution="400 m", near="QK3ELM", within=within), opened.net)
        found = sites(opened, area=area)
        cells = np.flatnonzero(found.layer.known.ravel())
        grid = found.layer.grid
        every = [Site(int(c), grid.position(int(c)), 0.0, (), 0, 0.0) for c in cells]
        near = [
            s
            for s in every
            if _metres(s.position, opened.net.station("QK3ELM").position) <= parse_distance_m(within)
        ]
        worked = survey_sites(
            near, [f"s{k}" for k in range(len(near))], found.relay, found.channels,
            rules_of(opened.folder.planning).threshold, opened.net, partial(paths_with_places, opened),
        )  # fmt: skip
        assert len(worked) > 20
        best.append(rank_of(found.task, found.chosen))
        assert best[-1][0] == max(rank_of(found.task, [site])[0] for site in worked)
        assert f"links {len(found.linked)} of {len(found.task.wanted)} members" in found.headline
        assert f"{best[-1][1]:.1f} to be expected" in found.headline
    assert best[1][0] >= best[0][0]


def _metres(one: Position, other: Position) -> float:
    return float(
        distance_and_bearing(
            from_latitude_deg=one.latitude_deg,
            from_longitude_deg=one.longitude_deg,
            to_latitude_deg=other.latitude_deg,
            to_longitude_deg=other.longitude_deg,
        )[0]
    )


def test_every_spot_gets_in_on_its_own_path(opened: OpenNet, driven: SpotsAnswer) -> None:
    """Each spot as a member of the net, surveyed like any other."""
    rule = rules_of(opened.folder.planning).threshold
    for spot in driven.spots:
        for place in (spot, spot.comfortable):
            if place is None:
                continue
            there = replace(driven.kit, call_sign="QK0SPT", position=place.position)
            net = replace(opened.net, stations=(there,))
            member = survey_repeater(net, opened.terrain, opened.net.repeater(spot.hub)).member("QK0SPT")
            spare = [
                float(link.margin_db - rule.needed_margin_db(np.array([link.sigma_db]))[0])
                for link in (member.talk_in, member.talk_out)
            ]
            assert min(spare) == pytest.approx(place.spare_db, abs=1e-6) and place.spare_db >= 0.0


def test_sites_worked_apart_from_each_other_have_the_same_links(opened: OpenNet, pair: SitesAnswer) -> None:
    rule = rules_of(opened.folder.planning).threshold
    places = [site.site for site in pair.shown]
    survey = partial(paths_with_places, opened)
    found = survey_each_site(places, pair.relay, pair.channels, rule, opened.net, survey)
    for one, other in zip(found, pair.shown, strict=True):
        assert one.works == other.works and one.other_sites == ()
        assert [(a.call_sign, a.talk_in.margin_db, a.talk_out.margin_db) for a in one.links] == [
            (b.call_sign, b.talk_in.margin_db, b.talk_out.margin_db) for b in other.links
        ]


def test_a_larger_area_never_links_fewer_nor_two_relays_fewer_than_one(opened: OpenNet) -> None:
    """Circles one inside the other, over the step from every cell worked to the strongest only."""
    linked: dict[int, list[int]] = {1: [], 2: []}
    for within in ("1200 m", "2 km", "3 km", "5 km", "9 km"):
        area = read_area(TypedArea(resolution="400 m", near="QK3ELM", within=within), opened.net)
        for together, counts in linked.items():
            found = sites(opened, aim=SiteAim(together=together), area=area)
            counts.append(len(found.linked))
    assert linked[1] == sorted(linked[1]) and linked[2] == sorted(linked[2])
    assert all(two >= one for one, two in zip(linked[1], linked[2]))
    assert linked[1][-1] > linked[1][0]


def test_what_is_proven_of_a_choice_is_said_and_what_is_not(opened: OpenNet) -> None:
    area = read_area(TypedArea(resolution="400 m", near="QK3ELM", within="2 km"), opened.net)
    every = sites(opened, area=area)
    (said,) = every.proof
    cells, most = len(every.plan.alone), len(every.linked)
    assert said == (
        f"Proven: each of the {cells} cells was worked path by path; none links more than {most} of 24."
    )
    assert cells == every.plan.candidates <= 240 and said in every.assumed
    area = read_area(TypedArea(resolution="400 m", near="QK3ELM", within="5 km"), opened.net)
    pair = sites(opened, aim=SiteAim(together=2), area=area)
    of_count, of_paths = pair.proof
    assert of_count == (
        f"Proven by the search's count only: of {pair.plan.candidates:,} cells no 2 of them together "
        f"link more than {pair.plan.best_count} of 24."
    )
    assert of_paths.startswith("Not proven path by path") and "another may link more" in of_paths
    assert pair.figures.proof == pair.proof
    text = " ".join(terminal_text(*sites_screen(pair), width=160).split())
    assert of_count in text and of_paths in text


def test_where_no_cell_could_link_more_by_a_better_path_it_is_said_and_is_so(opened: OpenNet) -> None:
    """Held against every cell worked path by path."""
    area = read_area(TypedArea(resolution="300 m", near="QK3ELM", within="7 km"), opened.net)
    found = sites(opened, area=area)
    linked = len(found.linked)
    assert found.plan.candidates > 1000 and (found.layer.hopeful > linked).any()
    assert found.proof[1] == (
        f"Path by path {linked} are linked, and none of the {found.plan.candidates:,} cells links more "
        "unless a path there is over 3 dB better than the search took it."
    )
    every = [site_of(found.layer, cell, found.task) for cell in range(found.layer.known.size)]
    rule = rules_of(opened.folder.planning).threshold
    survey = partial(paths_with_places, opened)
    worked = survey_each_site(every, found.relay, found.channels, rule, opened.net, survey)
    assert max(len(linked_by(found.task, [site.works])) for site in worked) == linked


def test_cells_that_might_link_more_and_were_not_worked_are_counted(
    opened: OpenNet, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(answers_sites, "MOST_HOPEFUL", 0)
    area = read_area(TypedArea(resolution="300 m", near="QK3ELM", within="7 km"), opened.net)
    found = sites(opened, area=area)
    only, might = (int(n) for n in re.findall(r"(\d+) (?:cells were worked|might)", found.proof[1]))
    hopeful = int((found.layer.hopeful > len(found.linked))[found.layer.known].sum())
    assert 0 < hopeful - only <= might <= hopeful


def test_of_several_relays_nothing_is_said_of_what_a_better_path_might_do(opened: OpenNet) -> None:
    area = read_area(TypedArea(resolution="400 m", near="QK3ELM", within="5 km"), opened.net)
    pair = sites(opened, aim=SiteAim(together=2), area=area)
    assert "dB better" not in " ".join(pair.proof)


@pytest.fixture(scope="module")
def every_cell(opened: OpenNet) -> SitesAnswer:
    return sites(opened, area=read_area(COARSE, opened.net))


def test_only_the_best_cells_looked_at_give_the_answer_that_every_cell_gives(
    opened: OpenNet, every_cell: SitesAnswer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(site_search, "WORTH_A_FIRST_LOOK", 1000)
    monkeypatch.setattr(site_search, "COARSER", 3)
    monkeypatch.setattr(site_search, "FIRST_CELLS", 54)
    area = read_area(COARSE, opened.net)
    best = sites(opened, area=area, told=CellsTold.BEST)
    assert best.layer.at_least > 10 and best.layer.whole.mean() < 0.5
    assert terminal_text(*sites_screen(best), width=160) == terminal_text(
        *sites_screen(every_cell), width=160
    )
    assert best.figures == every_cell.figures and best.plan == every_cell.plan
    weak = SiteAim(Goal.NAMED, named=("QK3YEW", "QK3SLO", "QK3WLW", "QK3THN", "QK3HOL", "QK3PIN"))
    few, every = (sites(opened, aim=weak, area=area, told=told) for told in (CellsTold.BEST, CellsTold.EVERY))
    assert few.figures == every.figures


@pytest.mark.parametrize("too_many", [22, 24, 25])
def test_where_too_many_cells_were_left_aside_every_one_is_looked_at(
    opened: OpenNet, every_cell: SitesAnswer, monkeypatch: pytest.MonkeyPatch, too_many: int
) -> None:
    aside = LeftAside(too_many, every_cell.layer.call_signs)
    monkeypatch.setattr(site_search, "WORTH_A_FIRST_LOOK", 1000)
    monkeypatch.setattr(site_search, "_first_look", lambda *asked: aside)
    assert every_cell.plan.decided_from < too_many
    found = sites(opened, area=read_area(COARSE, opened.net), told=CellsTold.BEST)
    assert found.layer.at_least == 0 and found.figures == every_cell.figures


def test_where_paths_link_fewer_than_cells_left_aside_might_every_one_is_looked_at(
    opened: OpenNet, every_cell: SitesAnswer, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_least = every_cell.plan.decided_from
    aside = LeftAside(at_least, every_cell.layer.call_signs)
    monkeypatch.setattr(site_search, "WORTH_A_FIRST_LOOK", 1000)
    monkeypatch.setattr(site_search, "_first_look", lambda *asked: aside)
    area = read_area(COARSE, opened.net)
    assert sites(opened, area=area, told=CellsTold.BEST).layer.at_least == at_least
    linked = answers_sites._most_linked
    monkeypatch.setattr(answers_sites, "_most_linked", lambda *asked: linked(*asked) - 5)
    assert sites(opened, area=area, told=CellsTold.BEST).layer.at_least == 0


def test_nothing_better_than_all_is_proven_at_once(opened: OpenNet) -> None:
    area = read_area(TypedArea(resolution="300 m", near="QK3ALD", within="3 km"), opened.net)
    found = sites(opened, aim=SiteAim(Goal.NAMED, named=("QK3ALD", "QK3ELM")), area=area)
    assert len(found.linked) == 2
    assert found.proof == ("Proven: nothing links more, for all 2 are linked.",)
