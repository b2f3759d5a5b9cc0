"""One path asked about: the same link as in the whole net, on the channel named."""

from __future__ import annotations

import pytest

from reach.answers.open_net import OpenNet
from reach.answers.path import path
from reach.answers.simplex import simplex
from reach.errors import InputProblem


def test_a_path_is_the_link_of_the_whole_net(opened: OpenNet) -> None:
    found = path(opened, left="qk1a", right="QK1H", channel="six metres", models=())
    network = simplex(opened, channel="52.525").network
    assert found.study.there.margin_db == pytest.approx(network.link("QK1A", "QK1H").margin_db, abs=1e-9)
    assert found.study.back.margin_db == pytest.approx(network.link("QK1H", "QK1A").margin_db, abs=1e-9)
    assert found.study.models == () and found.figures.models_spread is None
    there, back = found.figures.directions
    assert (there["station"], there["hears"]) == ("QK1H", "QK1A")
    assert (back["station"], back["hears"]) == ("QK1A", "QK1H")
    assert found.headline.startswith("QK1A and QK1H ")


def test_a_repeater_is_worked_on_its_own_pair(opened: OpenNet) -> None:
    found = path(opened, left="QK1A", right="QK0RA", channel="six metres", models=())
    assert found.study.there.frequency_mhz == pytest.approx(146.34)
    assert found.study.back.frequency_mhz == pytest.approx(146.94)
    assert {end.call_sign for end in found.figures.keep_away} == {"QK1A", "QK0RA"}


@pytest.mark.parametrize(
    ("left", "right", "channel", "words"),
    [
        ("QK1A", "QK1A", None, "give two call signs"),
        ("QK1A", "QK1N", None, "no radio path"),
        ("QK1A", "QK1B", "eleven", "is no channel of Small net"),
    ],
)
def test_what_is_no_path_is_said(
    opened: OpenNet, left: str, right: str, channel: str | None, words: str
) -> None:
    with pytest.raises(InputProblem, match=words):
        path(opened, left=left, right=right, channel=channel)
