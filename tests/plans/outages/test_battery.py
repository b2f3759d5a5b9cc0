"""Battery hours: hand-worked examples, a battery drained step by step, and what must hold for any station."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import OutOfRange
from reach.inputs.planning import BatteryRules
from reach.plans.outages.battery import (
    BatteryLife,
    Duty,
    average_current_a,
    battery_hours,
    battery_life,
    battery_note,
    transmit_share,
)
from reach.stations import BackupPower
from tests.plans.invented_survey import a_repeater
from tests.plans.synthetic import station

# Source of the formula: definitions. Charge is current times time (SI brochure, 9th ed., 2.3.4: C = A s,
# so 1 Ah = 3600 C), power is voltage times current (W = V A). IEC 60050-482, 482-03-14, battery capacity
# (from memory).
RULES = BatteryRules(transmit_share=0.1, receive_current_a=0.5, transmitter_efficiency=0.4, usable_share=0.8)


def test_a_base_station_worked_by_hand() -> None:
    """50 W at 40 % from 12.8 V: 50 / (0.4 x 12.8) = 9.7656 A.

    A tenth of the time: 0.97656 + 0.9 x 0.5 = 1.42656 A. 80 % of 40 Ah is 32 Ah; 32 / 1.42656 = 22.43 h.
    """  # fmt: skip
    drawn_a = average_current_a(transmit_power_w=50.0, supply_v=12.8, share=0.1, rules=RULES)
    assert drawn_a == pytest.approx(1.42656, abs=1e-5)
    hours = battery_hours(capacity_ah=40.0, transmit_power_w=50.0, supply_v=12.8, share=0.1, rules=RULES)
    assert hours == pytest.approx(22.43, abs=0.005)


def test_a_small_station_worked_by_hand() -> None:
    """10 W at 50 % from 12 V: 10 / 6 = 1.66667 A. A quarter of the time, 0.2 A listening:
    0.416667 + 0.15 = 0.566667 A. All of 7 Ah: 7 / 0.566667 = 12.353 h."""
    rules = BatteryRules(
        transmit_share=0.25, receive_current_a=0.2, transmitter_efficiency=0.5, usable_share=1.0
    )
    hours = battery_hours(capacity_ah=7.0, transmit_power_w=10.0, supply_v=12.0, share=0.25, rules=rules)
    assert hours == pytest.approx(12.353, abs=0.001)


def test_listening_only_worked_by_hand() -> None:
    """0.5 A from 80 % of 20 Ah: 16 / 0.5 = 32 h, whatever the power."""
    for power_w in (5.0, 100.0):
        hours = battery_hours(
            capacity_ah=20.0, transmit_power_w=power_w, supply_v=13.8, share=0.0, rules=RULES
        )
        assert hours == pytest.approx(32.0)


def test_the_same_as_draining_a_battery_second_by_second() -> None:
    """Overs of 6 s in every minute, energy in watt seconds taken off until the usable energy is gone."""
    power_w, supply_v, capacity_ah = 25.0, 12.8, 4.0
    left_ws = RULES.usable_share * capacity_ah * 3600.0 * supply_v
    seconds = 0
    while left_ws > 0.0:
        sending = seconds % 60 < 6
        left_ws -= power_w / RULES.transmitter_efficiency if sending else RULES.receive_current_a * supply_v
        seconds += 1
    hours = battery_hours(
        capacity_ah=capacity_ah, transmit_power_w=power_w, supply_v=supply_v, share=0.1, rules=RULES
    )
    assert hours == pytest.approx(seconds / 3600.0, abs=1.0 / 60.0)  # within one over


@settings(max_examples=60, deadline=None)
@given(
    power_w=st.floats(0.1, 500.0), more_w=st.floats(0.0, 500.0), share=st.floats(0.0, 1.0),
    capacity_ah=st.floats(0.5, 500.0),
)  # fmt: skip
def test_more_power_never_lasts_longer_and_twice_the_battery_lasts_twice(
    power_w: float, more_w: float, share: float, capacity_ah: float
) -> None:
    def hours(power: float, capacity: float) -> float:
        return battery_hours(
            capacity_ah=capacity, transmit_power_w=power, supply_v=12.8, share=share, rules=RULES
        )

    assert hours(power_w + more_w, capacity_ah) <= hours(power_w, capacity_ah) * (1.0 + 1e-12)
    assert hours(power_w, 2.0 * capacity_ah) == pytest.approx(2.0 * hours(power_w, capacity_ah))


def test_hours_given_are_taken_as_they_are_and_yes_says_nothing() -> None:
    given_hours = station("QK1AAA", backup=BackupPower(hours=6.0, battery_ah=40.0))
    assert battery_life(given_hours, RULES) == BatteryLife("QK1AAA", 6.0)
    only_yes = battery_life(station("QK1AAB", backup=BackupPower()), RULES)
    assert only_yes.hours is None and only_yes.words == "not said"
    with pytest.raises(ValueError, match="QK1AAC has no backup power"):
        battery_life(station("QK1AAC"), RULES)


def test_a_relay_sends_half_of_the_time_and_a_repeater_always() -> None:
    own = replace(station("QK1AAA", backup=BackupPower(battery_ah=40.0)), transmit_power_dbm=46.9897)  # 50 W
    member, busy = battery_life(own, RULES), battery_life(own, RULES, duty=Duty.BUSY)
    assert member.hours == pytest.approx(22.43, abs=0.005)
    assert busy.hours == pytest.approx(32.0 / (0.5 * 9.765625 + 0.25), abs=0.005)  # 6.234 h
    assert transmit_share(Duty.BUSY, replace(RULES, transmit_share=0.7)) == 0.7
    hub = battery_life(a_repeater("QK0RA", backup=BackupPower(battery_ah=100.0)), RULES)
    assert hub.transmit_share == 1.0
    # 46 dBm is 39.81 W: 80 / (39.81 / 5.12) = 10.29 h
    assert hub.hours == pytest.approx(10.29, abs=0.01)


def test_shares_and_supplies_that_cannot_be_are_refused() -> None:
    with pytest.raises(OutOfRange, match=r"between 0 and 1, not 1\.5"):
        average_current_a(transmit_power_w=5.0, supply_v=12.0, share=1.5, rules=RULES)
    with pytest.raises(OutOfRange, match="0 V"):
        average_current_a(transmit_power_w=5.0, supply_v=0.0, share=0.5, rules=RULES)


def test_the_note_says_every_figure_behind_the_hours() -> None:
    note = battery_note(RULES)
    assert all(figure in note for figure in ("80%", "10%", "50%", "0.5 A", "40%"))
