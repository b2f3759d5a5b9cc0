"""What-if changes as typed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reach.errors import InputProblem
from reach.inputs.changes import changed_net
from reach.stations import Aim, Beam, Surrounding
from tests.plans.synthetic import call, linked

NET = linked(3, [(0, 1)]).net


def test_every_kind_of_change() -> None:
    net = changed_net(
        NET,
        [
            f"without {call(2)}",
            f"{call(0).lower()} height 50 ft",
            f"{call(0)} power 100 W",
            f"{call(1)} antenna 6 dBd",
            f"{call(1)} relay no",
            f"{call(1)} control no",
            "add QK9NEW mobile 41.30, -38.10",
        ],
    )
    assert [s.call_sign for s in net.stations] == [call(0), call(1), "QK9NEW"]
    assert net.station(call(0)).antenna.height_m == pytest.approx(15.24)
    assert net.station(call(0)).transmit_power_dbm == pytest.approx(50.0)
    assert net.station(call(1)).antenna.gain_dbi == pytest.approx(8.15)
    assert not net.station(call(1)).willing_relay
    assert not net.station(call(1)).willing_control
    added = net.station("QK9NEW")
    assert (added.position.latitude_deg, added.category.value) == (41.30, "mobile")
    assert added.assumed
    assert len(NET.stations) == 3  # the old net stays


def test_a_named_antenna_and_a_later_change_of_an_added_station() -> None:
    net = changed_net(NET, ["add QK9NEW base HM81ab55", "QK9NEW antenna base vertical"])
    assert net.station("QK9NEW").antenna.kind == "base vertical"


def test_all_faults_at_once_each_with_its_change() -> None:
    with pytest.raises(InputProblem) as caught:
        changed_net(
            NET,
            [f"without {call(0)[:-1]}X", f"{call(1)} height 35 fee", "add QK0AA base 41,-38", "fly away now"],
        )
    lines = str(caught.value).splitlines()
    assert len(lines) == 4
    assert f"did you mean {call(0)}" in lines[0] or "did you mean" in lines[0]
    assert '"35 fee"' in lines[1]
    assert "in the net already" in lines[2]
    assert "is no member" in lines[3]


@pytest.mark.parametrize("text", ["", "without", f"{call(0)} height", f"{call(0)} colour blue"])
def test_what_is_no_change_is_told_how_to_write_one(text: str) -> None:
    with pytest.raises(InputProblem, match="is not a change known here"):
        changed_net(NET, [text])


def test_an_antenna_takes_its_beam_and_its_body_with_it() -> None:
    whip = changed_net(NET, [f"{call(0)} antenna handheld whip on belt"])
    assert whip.station(call(0)).surroundings == (Surrounding.ON_BELT,)
    house = changed_net(whip, [f"{call(0)} antenna base vertical"]).station(call(0))
    assert house.surroundings == () and house.antenna.beam is None
    beam = changed_net(NET, [f"{call(0)} antenna 5-element yagi"]).station(call(0)).antenna.beam
    assert beam is not None and beam.aim is Aim.TURNS
    own = replace(NET.station(call(0)), antenna=replace(house.antenna, beam=Beam(Aim.FIXED, 90.0)))
    net = replace(NET, stations=(own, *NET.stations[1:]))
    kept = changed_net(net, [f"{call(0)} antenna 10-element yagi"]).station(call(0)).antenna
    assert kept.beam == Beam(Aim.FIXED, 90.0) and kept.gain_dbi == 13.0


def test_a_battery_and_a_place_on_a_portable_mast() -> None:
    net = NET
    call = net.stations[0].call_sign
    (with_battery, *_) = changed_net(net, [f"{call} backup 40 Ah"]).stations
    assert with_battery.backup is not None and with_battery.backup.battery_ah == 40.0
    (there, *rest) = changed_net(net, [f"{call} at 41.30,-38.10"]).stations
    assert (there.call_sign, there.position.latitude_deg, there.position.longitude_deg) == (call, 41.3, -38.1)
    assert there.willing_relay and there.backup is not None and there.antenna.height_m == 8.0
    assert tuple(rest) == net.stations[1:]
