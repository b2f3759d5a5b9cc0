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
    assert assumed_in_short(net) == expected
    assert assumed_notes(net, net.stations[2:]) == (expected[0], expected[2])
    assert assumed_notes(net, (replace(net.stations[0], assumed=(HEIGHT, KIND)),))[1] == (
        "Assumed for QK00A: antenna height 9 m (base default); "
        "antenna mobile whip (mobile default in net.toml)."
    )


def test_a_long_list_is_cut_for_people_and_whole_for_machines(club: Net) -> None:
    net = net_of(club, *[(POWER,)] * 60)
    (_, whole), (_, short, where) = assumed_notes(net), assumed_in_short(net)
    assert all(member.call_sign in whole for member in net.stations)
    assert short == (
        "Assumed for QK00A, QK01A, QK02A, QK03A, QK04A, QK05A and 54 more: power 50 W (base default)."
    )
    assert "reach check" in where
    seven = net_of(club, *[(POWER,)] * 7)
    assert "more" not in " ".join(assumed_in_short(seven))  # cutting one name saves nothing
