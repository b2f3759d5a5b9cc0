"""Defaults used are told with whom they touched: whole for machines, short for people."""

from __future__ import annotations

from dataclasses import replace

from reach.links.assumed import assumed_in_short, assumed_notes
from reach.stations import Net

from .conftest import station

HEIGHT, POWER = "antenna height 9 m (base default)", "power 50 W (base default)"
KIND = "antenna mobile whip (mobile default in net.toml)"


def net_of(club: Net, *assumed: tuple[str, ...]) -> Net:
    members = tuple(
        replace(station(f"QK{n:02d}A", 41.3, -38.3), assumed=texts) for n, texts in enumerate(assumed)
    )
    return replace(club, stations=members, assumed=("effective-earth factor 4/3", "path-loss model auto"))


def test_what_the_same_members_share_is_one_sentence(club: Net) -> None:
    net = net_of(club, (HEIGHT, POWER), (POWER, HEIGHT), (KIND,), ())
    expected = (
        "Assumed for the net: effective-earth factor 4/3; path-loss model auto.",
        "Assumed for QK00A, QK01A: antenna height 9 m, power 50 W (base default).",
        "Assumed for QK02A: antenna mobile whip (mobile default in net.toml).",
    )
    assert assumed_notes(net) == expected
    assert assumed_notes(net, net.stations[2:]) == (expected[0], expected[2])
    assert assumed_notes(net, (replace(net.stations[0], assumed=(HEIGHT, KIND)),))[1] == (
        "Assumed for QK00A: antenna height 9 m (base default); "
        "antenna mobile whip (mobile default in net.toml)."
    )


def test_beside_an_answer_it_is_one_sentence_and_all_of_it_for_machines(club: Net) -> None:
    net = net_of(club, *[(POWER, HEIGHT)] * 58, (POWER,), (KIND, "houses round it (not stated)"))
    whole = " ".join(assumed_notes(net))
    assert all(member.call_sign in whole for member in net.stations)
    assert assumed_in_short(net) == (
        "Assumed where nothing was said: houses round it (1 station), power 50 W (59 stations), antenna"
        " height 9 m (58 stations) and 3 more usual values; `reach check` lists them all.",
    )


def test_of_one_path_everything_is_told(club: Net) -> None:
    net = net_of(club, (HEIGHT, POWER), (KIND,))
    assert assumed_in_short(net, net.stations) == assumed_notes(net, net.stations)
