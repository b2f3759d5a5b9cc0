"""How long a station stays on the air without mains: charge that can be used over the average current drawn.

    I_tx  = P_rf / (efficiency V)                        supply current while transmitting
    I     = share I_tx + (1 - share) I_rx                average over a net, share of the time transmitting
    hours = usable share * capacity / I

Source : definitions only. Electric charge is current times time (SI brochure, 9th edition, 2.3.4: C = A s;
1 Ah = 3600 C), power is voltage times current (W = V A); battery capacity is the charge a battery can
deliver, usually in ampere hours (IEC 60050-482, 482-03-14, from memory). The efficiency, the receive
current, the usable share and the shares of time are common practice without a source: a battery that is old
or cold, or drained quickly, gives less.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from reach.errors import OutOfRange
from reach.inputs.planning import BatteryRules
from reach.stations import BackupPower, Repeater, Station
from reach.units import dbm_to_watts


class Duty(Enum):
    """How much a station has to say; the share of the time it transmits while the net is in session."""

    MEMBER = "member"  # the share of the net's planning rules
    BUSY = "net control or relay"  # half of the time, or the share of the rules where that is more
    REPEATER = "repeater"  # all of the time: it transmits whoever speaks
    UNUSED = "repeater nobody uses"  # it listens


STANDARD_BATTERY = BatteryRules()
BUSY_SHARE = 0.5  # net control and relays speak about every second over (own choice)


@dataclass(frozen=True)
class BatteryLife:
    """How long one station lasts.

    hours : None when nothing is known but that it has backup power.
    average_current_a, transmit_share : behind the figure; None when the hours were given as such.
    """

    call_sign: str
    hours: float | None
    average_current_a: float | None = None
    transmit_share: float | None = None

    @property
    def words(self) -> str:
        """'6 h', 'about 20 h', or 'not said'."""
        if self.hours is None:
            return "not said"
        return f"{self.hours:.0f} h" if self.hours >= 9.5 else f"{self.hours:.1f} h"


def transmit_share(duty: Duty, rules: BatteryRules) -> float:
    """Share of the time a station with that duty transmits, 0 to 1."""
    if duty is Duty.REPEATER:
        return 1.0
    if duty is Duty.UNUSED:
        return 0.0
    return max(BUSY_SHARE, rules.transmit_share) if duty is Duty.BUSY else rules.transmit_share


def average_current_a(
    *, transmit_power_w: float, supply_v: float, share: float, rules: BatteryRules
) -> float:
    """Average supply current, A. share : of the time transmitting, 0 to 1.

    Raises : OutOfRange for a share outside 0 to 1, or a voltage or efficiency that is not above zero.
    """
    if not 0.0 <= share <= 1.0:
        raise OutOfRange(f"a share of the time transmitting lies between 0 and 1, not {share:g}.")
    if not (supply_v > 0.0 and 0.0 < rules.transmitter_efficiency <= 1.0):
        raise OutOfRange(
            f"a supply of {supply_v:g} V at an efficiency of {rules.transmitter_efficiency:g} gives no "
            "current; both must be above zero, the efficiency at most 1."
        )
    transmit_current_a = transmit_power_w / (rules.transmitter_efficiency * supply_v)
    return share * transmit_current_a + (1.0 - share) * rules.receive_current_a


def battery_hours(
    *, capacity_ah: float, transmit_power_w: float, supply_v: float, share: float, rules: BatteryRules
) -> float:
    """Hours a battery lasts. capacity_ah : nominal. Raises : OutOfRange as `average_current_a`."""
    current_a = average_current_a(
        transmit_power_w=transmit_power_w, supply_v=supply_v, share=share, rules=rules
    )
    return rules.usable_share * capacity_ah / current_a


def battery_life(who: Station | Repeater, rules: BatteryRules, *, duty: Duty = Duty.MEMBER) -> BatteryLife:
    """How long a station or repeater with backup power lasts. Hours the user gave are taken as they are.

    A repeater has the duty of one unless it is said to be unused. Raises : ValueError without backup power.
    """
    backup: BackupPower | None = who.backup
    if backup is None:
        raise ValueError(f"{who.call_sign} has no backup power")
    if backup.hours is not None or backup.battery_ah is None:
        return BatteryLife(who.call_sign, backup.hours)
    if isinstance(who, Repeater) and duty is not Duty.UNUSED:
        duty = Duty.REPEATER
    share = transmit_share(duty, rules)
    power_w = float(dbm_to_watts(who.transmit_power_dbm))
    drawn_a = average_current_a(transmit_power_w=power_w, supply_v=backup.battery_v, share=share, rules=rules)
    hours = battery_hours(
        capacity_ah=backup.battery_ah,
        transmit_power_w=power_w,
        supply_v=backup.battery_v,
        share=share,
        rules=rules,
    )
    return BatteryLife(who.call_sign, hours, drawn_a, share)


def battery_note(rules: BatteryRules) -> str:
    """What the battery figures stand on, in a sentence."""
    return (
        "Battery hours, with the net in session all the time: "
        f"{rules.usable_share:.0%} of the capacity over the average current at the battery's voltage "
        f"({BackupPower.battery_v:g} V unless the roster says otherwise); members "
        f"transmit {rules.transmit_share:.0%} of the time, net control and relays "
        f"{transmit_share(Duty.BUSY, rules):.0%}, a repeater always; {rules.receive_current_a:g} A "
        f"listening, {rules.transmitter_efficiency:.0%} of the supply power goes on the air. Old or cold "
        "batteries give less."
    )
