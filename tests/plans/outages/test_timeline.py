"""The net on batteries: by hand, and against a simulation that goes step by step."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from reach.inputs.planning import BatteryRules
from reach.plans.outages.backup import plan_outage
from reach.plans.outages.battery import Duty
from reach.plans.outages.failures import Mains, NetSurvey, Outage
from reach.plans.outages.timeline import battery_timeline
from reach.plans.relays.rules import RelayRules
from reach.stations import BackupPower
from tests.plans.invented_survey import invented_survey, survey_of
from tests.plans.synthetic import call, linked, station

RULES = RelayRules()
BATTERY = BatteryRules()
LOST = Outage(mains=Mains.LOST)
STEP_H = (
    1.0 / 180.0
)  # 20 s; a repeater in use draws 15 times what it draws idle, so a step of it is 5 minutes


def with_backup(survey: NetSurvey, backup: dict[str, BackupPower | None]) -> NetSurvey:
    """The survey with other batteries at some stations and repeaters."""
    net = survey.net
    stations = tuple(replace(s, backup=backup.get(s.call_sign, s.backup)) for s in net.stations)
    hubs = tuple(
        replace(n, repeater=replace(n.repeater, backup=backup.get(n.repeater.call_sign, n.repeater.backup)))
        for n in survey.repeaters
    )
    net = replace(net, stations=stations, repeaters=tuple(n.repeater for n in hubs))
    return NetSurvey(replace(survey.simplex, net=net), hubs)


def drawn_a(power_w: float, share: float) -> float:
    """Average supply current at 12.8 V by the formula, written out once more."""
    return share * power_w / (0.4 * 12.8) + (1.0 - share) * 0.5


def test_duties_move_and_the_charge_spent_stays_spent() -> None:
    """0, 1 and 2 work each other; 0 and 1 lead, 50 W, 40 Ah each; 2 has hours enough.

    Net control draws 0.5 * 50 / (0.4 * 12.8) + 0.5 * 0.5 = 5.133 A, a member 0.1 * 9.766 + 0.9 * 0.5 =
    1.427 A. 32 Ah can be used: 0 leads for 6.234 h, in which 1 spends 8.893 Ah; its other 23.107 Ah
    last 4.502 h as net control: the net ends after 10.736 h, not after 12.5.
    """
    stations = tuple(
        replace(
            station(call(k), control=k < 2, relay=False, backup=BackupPower(battery_ah=40.0)),
            transmit_power_dbm=46.9897,
        )
        for k in range(2)
    )
    stations = (*stations, station(call(2), control=False, relay=False, backup=BackupPower(hours=200.0)))
    survey = survey_of(linked(3, [(0, 1), (1, 2), (0, 2)], stations), {})
    line = battery_timeline(survey, plan_outage(survey, LOST, RULES), RULES, BATTERY)
    assert line is not None
    control_a, member_a = drawn_a(50.0, 0.5), drawn_a(50.0, 0.1)
    first_h = 32.0 / control_a
    second_h = first_h + (32.0 - member_a * first_h) / control_a
    assert (first_h, second_h) == pytest.approx((6.234, 10.736), abs=0.001)
    assert [s.control for s in line.stretches[:2]] == [call(0), call(1)]
    assert line.stretches[1].from_h == pytest.approx(first_h, rel=1e-6)
    assert line.stretches[2].from_h == pytest.approx(second_h, rel=1e-6)
    assert line.changes_h == pytest.approx(first_h, rel=1e-6)
    (kept,) = (c for c in line.stretches[1].charges if c.call_sign == call(1))
    assert kept.duty is Duty.BUSY
    assert kept.left == pytest.approx(1.0 - member_a * first_h / 32.0, rel=1e-6)


def test_the_hour_a_repeater_dies_everyone_changes_to_simplex() -> None:
    stations = tuple(station(call(k), backup=BackupPower(hours=50.0 + k)) for k in range(3))
    survey = survey_of(linked(3, [(0, 1), (1, 2), (0, 2)], stations), {"QK0RA": [call(0), call(1), call(2)]})
    survey = with_backup(survey, {"QK0RA": BackupPower(hours=24.0)})
    line = battery_timeline(survey, plan_outage(survey, LOST, RULES), RULES, BATTERY)
    assert line is not None
    assert [(s.from_h, s.hub, s.gone) for s in line.stretches[:2]] == [
        (0.0, "QK0RA", ()),
        (24.0, "", ("QK0RA",)),
    ]
    assert line.changes_h == 24.0 and line.ends_h == 51.0


def test_hours_nobody_said_count_as_lasting_and_are_named() -> None:
    stations = (
        station(call(0), backup=BackupPower()),
        station(call(1), control=False, backup=BackupPower(hours=5.0)),
        station(call(2), control=False, backup=BackupPower()),
    )
    survey = survey_of(linked(3, [(0, 1), (0, 2)], stations), {})
    line = battery_timeline(survey, plan_outage(survey, LOST, RULES), RULES, BATTERY)
    assert line is not None
    assert line.unknown == (call(0), call(2)) and line.ends_h is None and line.changes_h is None
    assert [(s.from_h, s.until_h, len(s.in_net)) for s in line.stretches] == [(0.0, 5.0, 3), (5.0, None, 2)]
    assert dict(line.empty_h) == {call(1): 5.0}


def test_with_the_mains_on_there_is_no_timeline() -> None:
    survey = survey_of(linked(2, [(0, 1)]), {})
    assert battery_timeline(survey, plan_outage(survey, Outage(), RULES), RULES, BATTERY) is None


def step_by_step(survey: NetSurvey) -> tuple[list[tuple[float, str, str, int]], dict[str, float]]:
    """(hour, place, net control, how many) of every change, and when each battery is empty.

    Charge in ampere hours (or hours the user stated) goes down step by step at the current of the duty;
    a net is planned anew only when a station with a duty or a repeater in use is silent.
    """
    net = survey.net
    hubs = {n.repeater.call_sign: n.repeater for n in survey.repeaters}
    members = {s.call_sign: s for s in net.stations}
    everyone = {**members, **hubs}
    fuel = {}
    for name, who in everyone.items():
        if who.backup is not None and who.backup.hours is not None:
            fuel[name] = who.backup.hours
        elif who.backup is not None and who.backup.battery_ah is not None:
            fuel[name] = 0.8 * who.backup.battery_ah
    silent: set[str] = set()
    plan = plan_outage(survey, LOST, RULES)
    log = [(0.0, plan.hub, plan.control, len(plan.in_net))]
    empty: dict[str, float] = {}
    steps = 0
    while plan.control and fuel:
        steps += 1
        used = {w.over for w in plan.ways if w.over and w.call_sign in plan.in_net} | {plan.hub}
        relays = set(plan.plan.relay_calls) if plan.plan else set()
        for name in list(fuel):
            who = everyone[name]
            if who.backup.hours is not None:  # type: ignore[union-attr]
                rate = 1.0
            else:
                share = 0.5 if name == plan.control or name in relays else 0.1
                if name in hubs:
                    share = 1.0 if name in used else 0.0
                rate = drawn_a(10.0 ** (who.transmit_power_dbm / 10.0 - 3.0), share)
            fuel[name] -= rate * STEP_H
        gone = {name for name, left in fuel.items() if left <= 0.0}
        if not gone:
            continue
        for name in gone:
            del fuel[name]
            empty[name] = steps * STEP_H
        silent |= gone
        idle = any(all(c in silent for c in plan.way(r).serves) for r in relays)
        if idle or silent & ({plan.control} | relays | used) or len(set(plan.in_net) - silent) < 2:
            outage = replace(
                LOST, repeaters=frozenset(silent & set(hubs)), stations=frozenset(silent & set(members))
            )
            plan = plan_outage(survey, outage, RULES)
        log.append((steps * STEP_H, plan.hub, plan.control, len(set(plan.in_net) - silent)))
    return log, empty


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000))
@example(seed=4089)
def test_the_timeline_is_what_a_simulation_step_by_step_finds(seed: int) -> None:
    survey = invented_survey(8, seed=seed)
    rng = np.random.default_rng(seed)
    backup: dict[str, BackupPower | None] = {}
    for name in (*survey.call_signs, "QK0RA", "QK0RB"):
        kind = rng.integers(0, 5)
        # far enough apart that no two fall silent within the same few minutes by the rounding of a step
        size = float(rng.integers(5, 40)) + float(rng.random())
        backup[name] = [
            None, BackupPower(), BackupPower(hours=size), BackupPower(battery_ah=size),
        ][min(kind, 3)]  # fmt: skip
    survey = with_backup(survey, backup)
    plan = plan_outage(survey, LOST, RULES)
    line = battery_timeline(survey, plan, RULES, BATTERY)
    assert line is not None
    log, empty = step_by_step(survey)
    times = [s.from_h for s in line.stretches]
    if (np.diff(times) < 0.2).any():
        return  # the order within a few minutes hangs on the step of the simulation
    assert [(s.hub, s.control, len(s.in_net)) for s in line.stretches] == [entry[1:] for entry in log]
    np.testing.assert_allclose(times, [entry[0] for entry in log], atol=0.2)
    for name, hour in empty.items():
        assert line.empty_h[name] == pytest.approx(hour, abs=0.2)
