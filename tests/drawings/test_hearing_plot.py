"""Who hears whom as squares: groups stand together, the same net gives the same bytes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from reach.answers.open_net import OpenNet, open_net
from reach.answers.simplex import simplex
from reach.drawings.hearing_plot import group_order, hearing_picture
from reach.drawings.profile_plot import PictureForm
from tests.answers.small_net import made_in


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenNet]:
    with open_net(made_in(tmp_path_factory.mktemp("hearing"))) as net:
        yield net


def test_everyone_with_a_radio_stands_there_once(opened: OpenNet) -> None:
    assert sorted(group_order(simplex(opened).network)) == ["QK1A", "QK1B", "QK1F", "QK1H"]


def test_two_groups_are_not_mixed(opened: OpenNet) -> None:
    """Ten stations in two cliques that share nothing, in an order that mixes them."""
    network = simplex(opened).network
    calls = tuple(f"QK7{chr(65 + k)}" for k in range(10))
    station = network.net.stations[0]
    stations = tuple(replace(station, call_sign=call) for call in calls)
    same = np.array([[(i % 2) == (j % 2) and i != j for j in range(10)] for i in range(10)])
    made = replace(
        network, net=replace(network.net, stations=stations), call_signs=calls, pair_chance=0.9 * same
    )
    order = [int(calls.index(call)) % 2 for call in group_order(made)]
    assert order in ([0] * 5 + [1] * 5, [1] * 5 + [0] * 5)


@pytest.mark.parametrize("form", PictureForm)
def test_the_same_net_gives_the_same_bytes(opened: OpenNet, form: PictureForm) -> None:
    found = simplex(opened)
    picture = hearing_picture(found, form=form)
    assert picture == hearing_picture(found, form=form) and len(picture) > 4000


def test_the_command_writes_it_and_refuses_another_ending(opened: OpenNet, tmp_path: Path) -> None:
    from click.testing import CliRunner

    from reach.commands.simplex import command

    folder = opened.net.folder
    assert CliRunner().invoke(command, [folder, "--picture", str(tmp_path / "who.svg")]).exit_code == 0
    drawn = (tmp_path / "who.svg").read_text()
    assert "<svg" in drawn
    assert CliRunner().invoke(command, [folder, "--picture", str(tmp_path / "who.doc")]).exit_code != 0
