"""What to beware of is said where it matters and nowhere else."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reach.links.doubts import net_doubts, repeater_doubts, simplex_doubts
from reach.notes import NoteKind, texts
from reach.stations import Channel, Net, Position

TEN = Channel("ten metres", 29.6)


@pytest.fixture
def doubtful(club: Net) -> Net:
    """A net with something odd in each of its parts."""
    stations = tuple(
        replace(s, warnings=(f"{s.call_sign} is odd.",)) if s.call_sign in ("QK1B", "QK1N") else s
        for s in club.stations
    )
    repeaters = (replace(club.repeaters[0], warnings=("QK0R is odd.",)),)
    return replace(
        club,
        stations=stations,
        repeaters=repeaters,
        channels=(*club.channels, TEN),
        warnings=("a column is odd.",),
    )


def test_a_look_at_the_whole_net_leaves_nothing_out(doubtful: Net) -> None:
    said = " ".join(texts(net_doubts(doubtful)))
    for part in ("a column", "QK1B", "QK1N", "QK0R"):
        assert said.count(f"{part} is odd.") == 1
    assert "channel ten metres: 29.6 MHz is planned as ground wave only" in said


def test_one_channel_is_not_warned_of_another(doubtful: Net) -> None:
    two_metres, ten = (texts(simplex_doubts(doubtful, c)) for c in doubtful.channels)
    assert two_metres == ("QK1B is odd.", "QK1N is odd.")
    assert "skywave is not modelled" in ten[0] and ten[1:] == two_metres


def test_a_repeater_is_warned_of_itself_and_who_looks_to_it(doubtful: Net) -> None:
    first = doubtful.stations[:1]
    (own,) = repeater_doubts(doubtful, doubtful.repeaters[0], first)
    assert (own.kind, own.subject, own.text) == (NoteKind.DATA, "QK0R", "QK0R is odd.")
    member = repeater_doubts(doubtful, doubtful.repeaters[0], doubtful.stations[:2])[1]
    assert (member.subject, str(member)) == ("QK1B", "QK1B is odd.")


def test_both_frequencies_out_of_band_are_two_doubts_and_ten_metres_none_twice(club: Net) -> None:
    repeater = replace(club.repeaters[0], output_mhz=146.94, input_mhz=146.34)
    assert len(repeater_doubts(replace(club, region=1), repeater, ())) == 2
    low = replace(repeater, output_mhz=29.66, input_mhz=29.56)
    said = texts(repeater_doubts(club, low, ()))
    assert len(said) == 2 and all("ground wave" in text for text in said)
    assert "29.66" in said[0] and "29.56" in said[1]


def test_coarse_places_are_told_once(club: Net) -> None:
    coarse = Position(41.3, -38.4, uncertainty_m=5000.0)
    unread = replace(club.stations[1], position=coarse)
    read = replace(unread, warnings=("roster.csv, row 3, QK1B: a 6-character locator may be off by 5 km.",))
    for station in (unread, read):
        said = texts(simplex_doubts(replace(club, stations=(station,)), club.channels[0]))
        assert len(said) == 1 and "QK1B" in said[0] and "locator" in said[0]
