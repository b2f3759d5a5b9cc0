"""A survey that takes what it can from one made before is the survey made anew."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest

from reach.links import survey as survey_module
from reach.links.network import SimplexNetwork
from reach.links.repeater_survey import survey_repeater
from reach.links.survey import survey_simplex
from reach.stations import Antenna, Channel, Land, Net, Position, Station
from reach.terrain.tiles import Terrain

Change = Callable[[Net], Net]


def changed(call: str, **changes: Any) -> Change:
    def made(net: Net) -> Net:
        stations = tuple(replace(s, **changes) if s.call_sign == call else s for s in net.stations)
        return replace(net, stations=stations)

    return made


def higher(net: Net) -> Net:
    antenna: Antenna = net.station("QK1H").antenna
    return changed("QK1H", antenna=replace(antenna, height_m=antenna.height_m + 6.0))(net)


def newcomer(net: Net) -> Net:
    new: Station = replace(net.stations[0], call_sign="QK9N", position=Position(41.3, -38.15))
    return replace(net, stations=(*net.stations, new))


CHANGES: dict[str, Change] = {
    "nothing": lambda net: net,
    "power": changed("QK1E", transmit_power_dbm=30.0),
    "height": higher,
    "place": changed("QK1E", position=Position(41.31, -38.2)),
    "land": changed("QK1H", land=Land.TREES),
    "newcomer": newcomer,
    "one less": lambda net: replace(net, stations=net.stations[1:]),
    "other order": lambda net: replace(net, stations=net.stations[::-1]),
}
OTHER_GROUND: dict[str, Change] = {
    "k-factor": lambda net: replace(net, k_factor=1.0),
    "model": lambda net: replace(net, model="p1812"),
}


def same(one: SimplexNetwork, other: SimplexNetwork) -> None:
    for field in fields(SimplexNetwork):
        a, b = getattr(one, field.name), getattr(other, field.name)
        if isinstance(a, np.ndarray):
            np.testing.assert_array_equal(a, b, err_msg=field.name)
        elif field.name != "warnings":
            assert a == b, field.name


@pytest.mark.parametrize("name", [*CHANGES, *OTHER_GROUND])
def test_on_simplex(club: Net, terrain: Terrain, channel: Channel, name: str) -> None:
    net = (CHANGES | OTHER_GROUND)[name](club)
    known = survey_simplex(club, terrain, channel)
    same(survey_simplex(net, terrain, channel, known=known), survey_simplex(net, terrain, channel))


@pytest.mark.parametrize("name", [*CHANGES, *OTHER_GROUND])
def test_on_a_repeater(club: Net, terrain: Terrain, name: str) -> None:
    net = (CHANGES | OTHER_GROUND)[name](club)
    hub = net.repeaters[0]
    known = survey_repeater(club, terrain, club.repeaters[0])
    again, anew = survey_repeater(net, terrain, hub, known=known), survey_repeater(net, terrain, hub)
    assert repr(again.members) == repr(anew.members)  # a NaN is not itself
    assert (again.net, again.no_radio, again.model) == (anew.net, anew.no_radio, anew.model)


@pytest.mark.parametrize(("name", "most"), [("nothing", 0), ("power", 0), ("place", 1), ("k-factor", 99)])
def test_only_what_changed_is_worked(
    club: Net, terrain: Terrain, channel: Channel, name: str, most: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Paths per station that moved: to each of the others; none for its power."""
    known = survey_simplex(club, terrain, channel)
    asked: list[int] = []
    whole = survey_module.survey_net_paths

    def counting(net: Net, terrain: Terrain, model: Any, ends: Any, **others: Any) -> Any:
        asked.append(len(ends))
        return whole(net, terrain, model, ends, **others)

    monkeypatch.setattr(survey_module, "survey_net_paths", counting)
    survey_simplex((CHANGES | OTHER_GROUND)[name](club), terrain, channel, known=known)
    on_air = sum(s.has_radio_path for s in club.stations)
    assert asked == [min(most * (on_air - 1), on_air * (on_air - 1) // 2)]


def test_a_network_of_another_channel_is_of_no_use(club: Net, terrain: Terrain, channel: Channel) -> None:
    known = survey_simplex(club, terrain, channel)
    other = replace(channel, frequency_mhz=446.0)
    same(survey_simplex(club, terrain, other, known=known), survey_simplex(club, terrain, other))
