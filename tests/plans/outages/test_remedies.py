"""What would bring cut-off members in: just enough does, a little less does not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.inputs.deeds import Deed, deeds_of
from reach.inputs.equipment import ANTENNAS
from reach.plans.outages.backup import plan_outage
from reach.plans.outages.failures import Mains, NetSurvey, Outage
from reach.plans.outages.remedies import MOST_DB, best_batteries, remedies, stronger
from reach.plans.relays.rules import RelayRules
from reach.stations import BackupPower, Category, Surrounding
from reach.units import dbm_to_watts
from tests.plans.invented_survey import invented_survey, survey_of
from tests.plans.synthetic import call, linked, network_of, station

RULES = RelayRules()


def a_pair_apart(*, heard_db: float, hears_db: float) -> NetSurvey:
    """0, 1 and 2 work each other; 3 is heard by 1 and hears it with these margins; 1 may relay."""
    margin_db = np.full((4, 4), -40.0)
    for a, b in ((0, 1), (0, 2), (1, 2)):
        margin_db[a, b] = margin_db[b, a] = 8.0
    margin_db[3, 1], margin_db[1, 3] = heard_db, hears_db
    stations = tuple(station(call(k), control=k == 0, relay=k == 1) for k in range(4))
    return survey_of(network_of(margin_db, stations), {})


def test_a_member_not_heard_by_the_relay_needs_gain_or_power() -> None:
    """3 misses 1 by 4.25 dB and hears it: 4.3 dB do. 47 dBm (50.12 W) times 10^0.43 is 134.9 W: 135 W."""
    survey = a_pair_apart(heard_db=-4.25, hears_db=2.0)
    (remedy,) = remedies(survey, plan_outage(survey, Outage(), RULES), RULES)
    assert remedy.call_sign == call(3) and remedy.near == call(1)
    assert remedy.gain_db == 4.3 and remedy.power_db == 4.3
    assert remedy.power_w == 135.0
    assert remedy.power_w >= float(dbm_to_watts(47.0 + 4.25))
    assert "if the licence allows" in remedy.words


def test_power_does_not_help_a_member_who_does_not_hear() -> None:
    survey = a_pair_apart(heard_db=3.0, hears_db=-2.5)
    (remedy,) = remedies(survey, plan_outage(survey, Outage(), RULES), RULES)
    assert remedy.gain_db == 2.5 and remedy.power_db is None and remedy.power_w is None
    assert " W " not in remedy.words


def test_what_is_out_of_reach_is_said_to_be() -> None:
    survey = a_pair_apart(heard_db=-MOST_DB - 1.0, hears_db=-MOST_DB - 1.0)
    (remedy,) = remedies(survey, plan_outage(survey, Outage(), RULES), RULES)
    assert remedy.gain_db is None and remedy.power_db is None
    assert "another place might" in remedy.words


def test_a_member_may_come_in_over_a_repeater() -> None:
    survey = survey_of(
        linked(3, [(0, 1)], tuple(station(call(k)) for k in range(3))), {"QK0RA": [call(0), call(1)]}
    )
    (remedy,) = remedies(survey, plan_outage(survey, Outage(), RULES), RULES)
    assert remedy.near == "QK0RA" and remedy.gain_db == 6.0  # FAILS_DB, both legs


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_just_enough_joins_and_a_tenth_less_does_not(seed: int) -> None:
    survey = invented_survey(9, seed=seed, repeaters=1)
    plan = plan_outage(survey, Outage(repeaters=frozenset(["QK0RA"])), RULES)
    for remedy in remedies(survey, plan, RULES):
        for needed_db, receive in ((remedy.gain_db, 1.0), (remedy.power_db, 0.0)):
            if needed_db is None:
                continue

            def joined_with(db: float, receive: float = receive, who: str = remedy.call_sign) -> bool:
                better = stronger(survey, who, transmit_db=db, receive_db=receive * db)
                return who in plan_outage(better, plan.outage, RULES).in_net

            assert joined_with(needed_db)
            # a tenth less leaves it out of this net; only around another hub it may count
            less = stronger(
                survey,
                remedy.call_sign,
                transmit_db=needed_db - 0.1,
                receive_db=receive * (needed_db - 0.1),
            )
            again = plan_outage(less, plan.outage, RULES)
            assert remedy.call_sign not in again.in_net or again.control != plan.control


def test_nobody_cut_off_or_no_net_needs_no_remedy() -> None:
    survey = survey_of(linked(2, [(0, 1)]), {})
    assert remedies(survey, plan_outage(survey, Outage(), RULES), RULES) == ()
    dark = plan_outage(survey, Outage(mains=Mains.LOST), RULES)
    assert remedies(survey, dark, RULES) == ()


def test_the_battery_that_helps_most_is_the_relays() -> None:
    """0 controls; 2 and 3, with battery, are reached through 1, which has none; 4 has none either."""
    stations = tuple(
        station(call(k), control=k == 0, relay=k == 1, backup=BackupPower() if k in (0, 2, 3, 5) else None)
        for k in range(6)
    )
    survey = survey_of(linked(6, [(0, 1), (1, 2), (1, 3), (0, 4), (0, 5)], stations), {})
    plan = plan_outage(survey, Outage(mains=Mains.LOST), RULES)
    assert plan.in_net == (call(0), call(5))
    best = best_batteries(survey, plan, RULES)
    assert [(b.call_sign, b.brings) for b in best] == [
        (call(1), (call(1), call(2), call(3))),
        (call(4), (call(4),)),
    ]
    assert best_batteries(survey, plan_outage(survey, Outage(), RULES), RULES) == ()


def test_a_stronger_station_changes_its_own_paths_only() -> None:
    survey = invented_survey(6, seed=4, repeaters=1)
    better = stronger(survey, call(2), transmit_db=3.0, receive_db=1.0)
    for a in survey.call_signs:
        for b in survey.call_signs:
            if a == b:
                continue
            more_db = 3.0 if a == call(2) else 1.0 if b == call(2) else 0.0
            was, now = survey.simplex.link(a, b), better.simplex.link(a, b)
            assert now.margin_db == pytest.approx(was.margin_db + more_db)
            assert (now.chance > was.chance) is (more_db > 0.0)
        was_in, now_in = (s.repeaters[0].member(a).talk_in.margin_db for s in (survey, better))
        assert now_in == pytest.approx(was_in + (3.0 if a == call(2) else 0.0))
    assert replace(better.simplex, margin_db=survey.simplex.margin_db).net == survey.net


def test_what_a_member_can_do_is_said_only_when_the_plan_with_it_brings_it_in() -> None:
    """3 is a handheld indoors, on the belt: off it gains 2 dB, outside 5, on a roll-up 9; it lacks 4."""
    survey = a_pair_apart(heard_db=-4.0, hears_db=2.0)
    worn = replace(
        survey.net.station(call(3)),
        category=Category.PORTABLE,
        surroundings=(Surrounding.ON_BELT, Surrounding.INDOORS),
    )
    stations = tuple(worn if s.call_sign == call(3) else s for s in survey.net.stations)
    survey = replace(survey, simplex=replace(survey.simplex, net=replace(survey.net, stations=stations)))
    gains = [2.0, 5.0, 9.0]
    deeds = deeds_of(worn)

    def survey_with(deed: Deed) -> NetSurvey:
        gain_db = gains[deeds.index(deed)]
        return stronger(survey, call(3), transmit_db=gain_db, receive_db=gain_db)

    (remedy,) = remedies(survey, plan_outage(survey, Outage(), RULES), RULES, survey_with=survey_with)
    assert remedy.deeds == (
        "takes the antenna off the belt and holds it up and goes outside",
        "hangs a roll-up j-pole at 6 m outside",
    )
    assert remedy.words == f"{call(3)} comes in when it {'; or '.join(remedy.deeds)}."
    gains[:] = [0.0, 0.0, 0.0]
    (none,) = remedies(survey, plan_outage(survey, Outage(), RULES), RULES, survey_with=survey_with)
    assert none.deeds == () and f"--for {call(3)}` finds where to go" in none.words


def test_deeds_change_what_they_say_and_never_ask_a_handheld_for_power() -> None:
    worn = replace(
        station(call(0)),
        category=Category.PORTABLE,
        antenna=ANTENNAS["handheld whip on belt"].at(1.0),
        transmit_power_dbm=37.0,
        surroundings=(Surrounding.ON_BELT, Surrounding.BASEMENT),
    )
    held, outside, rolled = (deed.station for deed in deeds_of(worn))
    assert (held.antenna.kind, held.surroundings) == ("handheld whip", (Surrounding.BASEMENT,))
    assert outside.surroundings == () and outside.antenna.kind == "handheld whip"
    assert (rolled.antenna.kind, rolled.antenna.height_m) == ("roll-up j-pole", 6.0)
    assert all(s.transmit_power_dbm == 37.0 for s in (held, outside, rolled))
    mobile = replace(station(call(1)), category=Category.MOBILE, transmit_power_dbm=40.0)
    assert [d.words.split(" ")[0] for d in deeds_of(mobile)] == ["sends", "parks"]
    home = replace(station(call(2)), transmit_power_dbm=40.0, antenna=ANTENNAS["j-pole"].at(6.0))
    assert [d.station.antenna.height_m for d in deeds_of(home)] == [6.0, 12.0]
    assert deeds_of(home)[-1].station.transmit_power_dbm == pytest.approx(46.99, abs=0.01)
