"""What goes along: the relay on its mast, and what a member takes in the car."""

from __future__ import annotations

import pytest

from reach.errors import InputProblem
from reach.inputs.portable_kit import kit_words, portable_relay, relay_words, taken_along
from reach.stations import (
    Antenna,
    Category,
    FeedLine,
    NoiseEnvironment,
    Position,
    Station,
    Surrounding,
)
from reach.units import watts_to_dbm


def base(**changes: object) -> Station:
    values: dict[str, object] = {
        "call_sign": "QK1A", "name": "", "position": Position(41.2, -38.0), "category": Category.BASE,
        "antenna": Antenna(12.0, 6.0), "transmit_power_dbm": 50.0, "feed_line": FeedLine(fixed_loss_db=2.0),
        "extra_loss_db": 6.0, "local_noise_db": 9.0, "noise": NoiseEnvironment.CITY,
        "surroundings": (Surrounding.INDOORS,),
    }  # fmt: skip
    return Station(**(values | changes))  # type: ignore[arg-type]


def test_the_relay_is_what_was_asked_for() -> None:
    relay = portable_relay(mast="30 ft", power="10 W", antenna="6 dBd")
    assert relay.antenna.height_m == pytest.approx(9.144)
    assert relay.antenna.gain_dbi == pytest.approx(8.15)
    assert relay.transmit_power_dbm == pytest.approx(40.0)
    assert relay.feed_line.length_m == pytest.approx(11.144)
    assert "10 W" in relay_words(relay) and "6 dBd" in relay_words(relay)


def test_everything_wrong_with_the_relay_comes_at_once() -> None:
    with pytest.raises(InputProblem) as caught:
        portable_relay(mast="tall", power="25", antenna="wire")
    assert [fault.key for fault in caught.value.faults] == ["--mast", "--power", "--antenna"]
    with pytest.raises(InputProblem, match="is no mast"):
        portable_relay(mast="0 m")


def test_a_base_station_leaves_its_antenna_and_its_house_at_home() -> None:
    kit = taken_along(base())
    assert kit.antenna.height_m == 2.0 and "mobile" in kit.antenna.kind
    assert kit.transmit_power_dbm == pytest.approx(float(watts_to_dbm(50.0)), abs=1e-3)
    assert (kit.extra_loss_db, kit.local_noise_db, kit.noise, kit.surroundings) == (0.0, 0.0, None, ())
    assert kit.category is Category.PORTABLE  # it stands still: no fading allowance
    assert taken_along(base(transmit_power_dbm=37.0)).transmit_power_dbm == 37.0
    assert "2 m" in kit_words(kit)


def test_a_handheld_is_taken_as_it_is_but_outdoors() -> None:
    own = base(category=Category.PORTABLE, antenna=Antenna(1.5, -5.0), extra_loss_db=0.0)
    kit = taken_along(own)
    assert kit.antenna == own.antenna and kit.transmit_power_dbm == own.transmit_power_dbm
    assert kit.surroundings == ()


def test_a_mobile_is_parked() -> None:
    assert taken_along(base(category=Category.MOBILE)).category is Category.PORTABLE
