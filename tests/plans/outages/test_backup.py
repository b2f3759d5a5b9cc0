"""Backup plans: against plain searches, against nets made without what is lost, and small nets by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from reach.plans.outages.backup import OutagePlan, Part, likely_outages, plan_outage
from reach.plans.outages.failures import (
    ON_SIMPLEX,
    Mains,
    NetSurvey,
    Outage,
    joined,
    standing,
    without_stations,
)
from reach.plans.outages.gatherings import (
    all_willing,
    asked_gathering,
    best_gathering,
    willing_gathering,
)
from reach.plans.outages.single_points import points_sentence, single_points
from reach.plans.relays.promises import plan_faults
from reach.plans.relays.rules import RelayRules
from reach.stations import BackupPower, Category
from tests.plans.invented_survey import invented_survey, reached_by_hand, survey_of, without
from tests.plans.synthetic import call, hilly, linked, station

RULES = RelayRules()


def a_small_net() -> NetSurvey:
    """QK0RA works 0, 1, 2, 3; QK0RB (with battery) works 3 and 4; on simplex 0-1, 1-5 and 0-2 work."""
    stations = tuple(
        station(call(k), control=k in (0, 3), relay=k in (1, 3), backup=BackupPower() if k != 2 else None)
        for k in range(6)
    )
    simplex = linked(6, [(0, 1), (1, 5), (0, 2)], stations)
    served = {"QK0RA": [call(0), call(1), call(2), call(3)], "QK0RB": [call(3), call(4)]}
    return survey_of(simplex, served, backed=["QK0RB"])


def test_with_nothing_lost_everyone_is_brought_in_over_both_repeaters_and_simplex() -> None:
    plan = plan_outage(a_small_net(), Outage(), RULES)
    assert (plan.hub, plan.total, plan.cut_off) == ("QK0RA", 6, ())
    assert plan.way(call(5)).via == (call(1),) and plan.way(call(5)).over == ON_SIMPLEX
    assert plan.way(call(4)).via == (call(3),) and plan.way(call(4)).over == "QK0RB"
    assert plan.way(call(2)).part is Part.DIRECT and plan.way(call(2)).over == "QK0RA"
    assert plan.sentence.startswith(
        "Nothing lost: 6 of 6 can take part: 4 on QK0RA and 2 more through 2 relays"
    )


def test_without_the_main_repeater_the_other_one_and_simplex_serve() -> None:
    """Left are the hub QK0RB (3 and 4: a net of two) and simplex around 0 (0, 1, 2, and 5 through 1)."""
    plan = plan_outage(a_small_net(), Outage(repeaters=frozenset(["QK0RA"])), RULES)
    assert (plan.hub, plan.control) == ("", call(0))
    assert plan.in_net == (call(0), call(1), call(2), call(5))
    assert plan.cut_off == (call(3), call(4))
    assert plan.way(call(5)).via == (call(1),)
    assert [(s.call_sign, s.works) for s in plan.services] == [("QK0RB", (call(3), call(4)))]
    assert "4 of 6 can take part (6 with nothing lost)" in plan.sentence
    assert f"cut off: {call(3)}, {call(4)}" in plan.sentence


def test_the_mains_take_repeaters_and_stations_without_backup_power() -> None:
    plan = plan_outage(a_small_net(), Outage(mains=Mains.LOST), RULES)
    assert plan.standing.dark == (call(2),) and plan.standing.dark_repeaters == ("QK0RA",)
    assert plan.in_net == (call(0), call(1), call(5))
    assert plan.way(call(2)).part is Part.DARK
    assert "QK0RA and 1 member off the air without backup power" in plan.sentence


def test_a_net_without_any_backup_power_is_told_where_to_begin() -> None:
    stations = tuple(station(call(k)) for k in range(3))
    survey = survey_of(linked(3, [(0, 1), (1, 2)], stations), {"QK0RA": [call(0)]})
    plan = plan_outage(survey, Outage(mains=Mains.LOST), RULES)
    assert plan.plan is None and plan.in_net == ()
    assert "backup column" in plan.advice
    assert plan.sentence == (
        "Mains lost: there is no net (with nothing lost 3 of 3 take part): nobody has backup power: "
        "no station is left on the air."
    )


def test_where_nobody_willing_can_lead_the_best_placed_is_planned_on_if_it_agrees() -> None:
    """1 works 0 and 2, but only 3, whom nobody works, is willing."""
    stations = tuple(station(call(k), control=k == 3, relay=False) for k in range(4))
    survey = survey_of(linked(4, [(0, 1), (1, 2)], stations), {})
    plan = plan_outage(survey, Outage(), RULES)
    assert (plan.control, plan.willing, plan.in_net) == (call(1), False, (call(0), call(1), call(2)))
    assert plan.sentence == (
        f"Nothing lost: {call(3)}, willing to be net control, can bring no two stations together; "
        f"if {call(1)} agrees to be net control, 3 of 4 can take part: "
        f"{call(1)} as net control works 2 directly on simplex; cut off: {call(3)}."
    )


def test_a_roster_with_nobody_willing_says_so_first_and_still_has_a_plan() -> None:
    stations = tuple(station(call(k), control=False) for k in range(3))
    survey = survey_of(linked(3, [(0, 1)], stations), {"QK0RA": [call(0), call(1), call(2)]})
    plan = plan_outage(survey, Outage(), RULES)
    assert (plan.hub, plan.willing, len(plan.in_net)) == ("QK0RA", False, 3)
    assert plan.sentence.startswith(
        'Nothing lost: nobody is marked willing to be net control (column "control" of the roster); if '
    )
    assert plan.stand_in is not None and not plan.stand_in.willing
    candidates = plan_outage(survey, Outage(), replace(RULES, control_candidates=("QK9XXX",)))
    assert candidates.lack == "None of the control candidates (QK9XXX) is on the air."
    dark = replace(stations[0], willing_control=True)
    backed = (dark, *(replace(s, backup=BackupPower()) for s in stations[1:]))
    lost = survey_of(linked(3, [(1, 2)], backed), {})
    assert plan_outage(lost, Outage(mains=Mains.LOST), RULES).lack == (
        f"{call(0)}, willing to be net control, is off the air."
    )


def test_a_larger_net_under_somebody_not_marked_willing_is_pointed_out() -> None:
    """0 is willing and works 1 alone; 1 works 0, 2 and 3."""
    stations = tuple(station(call(k), control=k == 0, relay=False) for k in range(4))
    plan = plan_outage(survey_of(linked(4, [(0, 1), (1, 2), (1, 3)], stations), {}), Outage(), RULES)
    assert plan.in_net == (call(0), call(1)) and plan.willing
    assert plan.advice == (
        f"If {call(1)}, not marked willing, agreed to be net control, 4 would be in the net in place of 2."
    )


def test_one_station_left_and_stations_that_reach_nobody() -> None:
    survey = survey_of(linked(2, []), {})
    apart = plan_outage(survey, Outage(), RULES)
    assert "whoever were net control" in apart.lack and apart.control == ""
    alone = plan_outage(survey, Outage(stations=frozenset([call(1)])), RULES)
    assert alone.lack == f"Only {call(0)} is left on the air." and "only QK0AA" in alone.sentence
    nobody = plan_outage(survey, Outage(stations=frozenset([call(0), call(1)])), RULES)
    assert nobody.lack == "Nobody is left on the air."


def test_net_control_on_a_repeater_does_not_relay_where_another_can_lead() -> None:
    """3 alone works 4 over QK0RB; 0 and 3 are willing and both work QK0RA: 0 leads."""
    plan = plan_outage(a_small_net(), Outage(), RULES)
    assert plan.plan is not None and plan.control not in plan.plan.relay_calls


def test_net_control_relays_only_where_nobody_else_can() -> None:
    """0 is the only one willing to lead and the only way to 3, on simplex; everyone else is on QK0RA."""
    stations = tuple(station(call(k), control=k == 0, relay=k == 0) for k in range(4))
    survey = survey_of(linked(4, [(0, 3)], stations), {"QK0RA": [call(0), call(1), call(2)]})
    plan = plan_outage(survey, Outage(), RULES)
    assert plan.control == call(0) and plan.way(call(3)).via == (call(0),)
    assert plan.listens_on(call(0)) == ("QK0RA", ON_SIMPLEX)
    both = replace(stations[1], willing_relay=True)
    other = survey_of(
        linked(4, [(0, 3), (1, 3)], (stations[0], both, *stations[2:])),
        {"QK0RA": [call(0), call(1), call(2)]},
    )
    spared = plan_outage(other, Outage(), RULES)
    assert spared.control == call(0) and spared.way(call(3)).via == (call(1),)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), mains=st.sampled_from(Mains))
def test_the_stand_in_is_who_leads_the_net_planned_without_its_control(seed: int, mains: Mains) -> None:
    survey = invented_survey(10, seed=seed)
    plan = plan_outage(survey, Outage(mains=mains), RULES)
    if plan.stand_in is None:
        return
    anew = plan_outage(without(survey, [plan.control]), Outage(mains=mains), RULES)
    found = plan.stand_in
    assert (anew.control, anew.hub, len(anew.in_net), anew.willing) == (
        found.call_sign,
        found.hub,
        found.in_net,
        found.willing,
    )
    assert found.call_sign != plan.control


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), mains=st.sampled_from(Mains))
def test_every_sentence_states_its_numbers(seed: int, mains: Mains) -> None:
    plan = plan_outage(invented_survey(11, seed=seed), Outage(mains=mains), RULES)
    if plan.plan is None:
        return
    assert f"{len(plan.in_net)} of {plan.total} can take part" in plan.sentence
    relayed = [w for w in plan.ways if w.via]
    if relayed:
        assert f"{len(relayed)} more through {len(plan.plan.relay_calls)} relay" in plan.sentence
    for repeater in plan.standing.dark_repeaters:
        assert repeater in plan.sentence
    serving = {call for way in plan.ways for call in way.serves}
    assert all(plan.way(c).via and plan.way(c).via[0] != c for c in serving)
    for way in plan.ways:
        heard_on = {plan.way(c).over for c in way.serves}
        assert heard_on <= set(plan.listens_on(way.call_sign)) if way.serves else True


def test_internet_members_stay_on_the_list_and_off_the_air() -> None:
    stations = (*(station(call(k)) for k in range(3)), station(call(3), category=Category.INTERNET))
    plan = plan_outage(survey_of(linked(4, [(0, 1), (1, 2)], stations), {}), Outage(), RULES)
    assert plan.total == 3 and plan.way(call(3)).part is Part.LINKED


def test_unknown_call_signs_are_refused() -> None:
    for outage in (Outage(repeaters=frozenset(["QK9XXX"])), Outage(stations=frozenset(["QK0RA"]))):
        with pytest.raises(KeyError):
            plan_outage(a_small_net(), outage, RULES)


def test_likely_outages_come_once_each() -> None:
    both = [o.words for o in likely_outages(a_small_net())]
    assert both == [
        "Nothing lost",
        "QK0RA down",
        "QK0RB down",
        "QK0RA, QK0RB down",
        "Mains lost",
        "QK0RA, QK0RB down, mains lost",
    ]
    stations = tuple(station(call(k), backup=BackupPower()) for k in range(2))
    one = survey_of(linked(2, [(0, 1)], stations), {"QK0RA": [call(0)]})
    assert [o.words for o in likely_outages(one)] == ["Nothing lost", "QK0RA down", "Mains lost"]
    none = survey_of(linked(2, [(0, 1)], stations), {})
    assert [o.words for o in likely_outages(none)] == ["Nothing lost", "Mains lost"]


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), n=st.integers(2, 11), repeaters=st.integers(0, 3))
def test_no_way_to_go_on_keeps_more_stations_than_the_one_found(seed: int, n: int, repeaters: int) -> None:
    survey = invented_survey(n, seed=seed, repeaters=repeaters)
    hub = willing_gathering(survey, Outage(), RULES)
    assert (len(hub.members) if hub else 0) == reached_by_hand(survey)
    asked = asked_gathering(survey, Outage(), RULES)
    assert (len(asked.members) if asked else 0) == reached_by_hand(all_willing(survey))
    best = best_gathering(survey, Outage(), RULES)
    assert best == (hub or asked)


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10_000), lost=st.sets(st.integers(0, 12), max_size=4), mains=st.sampled_from(Mains)
)
def test_an_outage_is_the_same_as_a_net_without_what_is_lost(seed: int, lost: set[int], mains: Mains) -> None:
    survey = invented_survey(11, seed=seed, repeaters=2)
    calls = [*survey.call_signs, *(n.repeater.call_sign for n in survey.repeaters)]
    gone = {calls[k] for k in lost}
    hubs = {n.repeater.call_sign for n in survey.repeaters}
    outage = Outage(frozenset(gone & hubs), frozenset(gone - hubs), mains)
    plan = plan_outage(survey, outage, RULES)
    if mains is Mains.LOST:
        gone |= {s.call_sign for s in survey.net.stations if s.backup is None}
        gone |= {r.call_sign for r in survey.net.repeaters if r.backup is None}
    anew = plan_outage(without(survey, gone), Outage(), RULES)
    assert plan.in_net == anew.in_net
    assert (plan.hub, plan.control, plan.cut_off) == (anew.hub, anew.control, anew.cut_off)
    assert [w.via for w in plan.ways if w.chance] == [w.via for w in anew.ways if w.chance]


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10_000), mains=st.sampled_from(Mains))
def test_more_lost_never_leaves_more_in_the_net(seed: int, mains: Mains) -> None:
    survey = invented_survey(11, seed=seed)
    rng = np.random.default_rng(seed)
    order = rng.permutation([*survey.call_signs, "QK0RA", "QK0RB"]).tolist()
    outage, before = Outage(mains=mains), 99
    for call_sign in order:
        if call_sign in ("QK0RA", "QK0RB"):
            outage = replace(outage, repeaters=outage.repeaters | {call_sign})
        else:
            outage = replace(outage, stations=outage.stations | {call_sign})
        hub = willing_gathering(survey, outage, RULES)
        now = len(hub.members) if hub else 0
        assert now <= before
        before = now
    assert before == 0


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10_000), mains=st.sampled_from(Mains))
@example(seed=539, mains=Mains.ON)  # the optimiser's presolve made a solution that broke a row
def test_relay_plans_of_outages_keep_their_promises(seed: int, mains: Mains) -> None:
    survey = invented_survey(12, seed=seed)
    outage = Outage(frozenset(["QK0RA"]) if seed % 2 else frozenset(), mains=mains)
    plan = plan_outage(survey, outage, RULES)
    if plan.plan is None:
        assert plan.lack and not plan.in_net
        return
    if not plan.willing:
        survey = all_willing(survey)
    network = joined(survey, plan.standing, RULES, hub=plan.hub)
    if plan_faults(plan.plan, network.network):  # net control, who could relay, was spared of it
        assert plan.hub and plan.control not in plan.plan.relay_calls
        net = network.network.net
        stations = (
            replace(s, willing_relay=s.willing_relay and s.call_sign != plan.control) for s in net.stations
        )
        spared = replace(network.network, net=replace(net, stations=tuple(stations)))
        assert plan_faults(plan.plan, spared) == ()
    left = set(plan.standing.members)
    assert set(plan.in_net) | set(plan.cut_off) == left and not set(plan.in_net) & set(plan.cut_off)
    assert plan.control in plan.in_net
    assert {w.call_sign for w in plan.ways} == {s.call_sign for s in survey.net.stations}


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_single_losses_cost_what_a_net_without_them_lacks(seed: int) -> None:
    survey = invented_survey(9, seed=seed)
    outages = (Outage(), Outage(repeaters=frozenset(["QK0RA", "QK0RB"])))
    plans = [plan_outage(survey, outage, RULES) for outage in outages]
    points = single_points(survey, plans, RULES)
    assert {p.call_sign for p in points} == {*survey.call_signs, "QK0RA", "QK0RB"}
    for point in points:
        for plan, cost in zip(plans, point.costs, strict=True):
            if cost.loses is None:
                assert point.call_sign in plan.outage.repeaters
                continue
            gone = {point.call_sign} | plan.outage.repeaters
            anew = plan_outage(without(survey, gone), Outage(), RULES)
            assert set(cost.loses) == set(plan.in_net) - set(anew.in_net) - {point.call_sign}


def test_single_points_of_a_small_net_by_hand() -> None:
    """1 is the only way to 5, 3 the only way to 4; QK0RA serves 0 to 3; without it 3 and 4 are apart."""
    survey = a_small_net()
    plans = [plan_outage(survey, Outage(), RULES)]
    points = single_points(survey, plans, RULES)
    loses = {p.call_sign: p.costs[0].loses for p in points}
    assert loses["QK0RA"] == (call(3), call(4))
    assert loses["QK0RB"] == (call(4),)
    assert loses[call(1)] == (call(5),)
    assert loses[call(3)] == (call(4),)
    assert loses[call(0)] == ()  # 3 is willing and takes over on QK0RA
    assert points[0].call_sign == "QK0RA" and points[0].costs[0].part == "repeater"
    parts = {p.call_sign: p.costs[0].part for p in points}
    assert (parts[call(1)], parts[call(0)]) == ("relay", "net control")
    sentence = points_sentence(points, plans)
    assert sentence.startswith("4 of 8 are single points of failure; the worst is QK0RA")


def test_a_net_where_everyone_works_everyone_has_no_single_point() -> None:
    survey = survey_of(linked(4, [(i, j) for i in range(4) for j in range(i)]), {})
    plans = [plan_outage(survey, Outage(), RULES)]
    assert points_sentence(single_points(survey, plans, RULES), plans).startswith("No single loss cuts off")


def test_leaving_stations_out_of_a_survey_keeps_every_other_figure() -> None:
    network = hilly(9, seed=3)
    less = without_stations(network, [call(2), call(7)])
    for a in less.call_signs:
        for b in less.call_signs:
            if a != b:
                assert less.link(a, b) == network.link(a, b)
    assert len(less.net.stations) == 7 and less.station_sigma_db.shape == (7,)


def test_over_a_repeater_a_pair_works_as_well_as_its_worse_leg() -> None:
    survey = invented_survey(8, seed=11, repeaters=1)
    both = joined(survey, standing(survey, Outage()), RULES, hub="")
    hub = survey.repeaters[0]
    over = 0
    for a in survey.call_signs:
        for b in survey.call_signs:
            if a == b:
                continue
            margin_db = both.network.link(a, b).margin_db
            if both.way(a, b) == ON_SIMPLEX:
                assert margin_db == survey.simplex.link(a, b).margin_db
            else:
                over += 1
                legs = (hub.member(a).talk_in.margin_db, hub.member(b).talk_out.margin_db)
                assert margin_db == min(legs)
    assert over


def test_the_hub_stands_in_the_network_as_the_repeater_is_surveyed() -> None:
    survey = invented_survey(7, seed=2, repeaters=1)
    network = joined(survey, standing(survey, Outage()), RULES, hub="QK0RA").network
    for call_sign in survey.call_signs:
        member = survey.repeaters[0].member(call_sign)
        assert network.link(call_sign, "QK0RA").margin_db == member.talk_in.margin_db
        assert network.link("QK0RA", call_sign).chance == member.talk_out.chance
    assert np.isnan(network.margin_db[-1, -1])


def test_the_same_plan_on_any_run_and_any_order_of_the_roster() -> None:
    survey = invented_survey(10, seed=5)
    first: OutagePlan = plan_outage(survey, Outage(mains=Mains.LOST), RULES)
    assert plan_outage(survey, Outage(mains=Mains.LOST), RULES) == first
    turned = without(survey, ())
    order = list(reversed(range(10)))
    pick = np.ix_(order, order)
    simplex = turned.simplex
    backwards = replace(
        simplex,
        net=replace(simplex.net, stations=tuple(reversed(simplex.net.stations))),
        call_signs=tuple(reversed(simplex.call_signs)),
        margin_db=simplex.margin_db[pick],
        chance=simplex.chance[pick],
        sigma_db=simplex.sigma_db[pick],
    )
    again = plan_outage(NetSurvey(backwards, turned.repeaters), Outage(mains=Mains.LOST), RULES)
    assert [(w.call_sign, w.part, w.via) for w in again.ways] == [
        (w.call_sign, w.part, w.via) for w in first.ways
    ]
