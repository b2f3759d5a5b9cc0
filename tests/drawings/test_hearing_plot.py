"""Who hears whom as squares: groups stand together, the same net gives the same bytes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import matplotlib
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


def test_a_hilltop_and_a_lone_station_do_not_hide_the_groups(opened: OpenNet) -> None:
    """Two towns of six, a hilltop that works all, one station that just reaches the hilltop."""
    network = simplex(opened).network
    calls = tuple(f"QK7{chr(65 + k)}" for k in range(14))
    station = network.net.stations[0]
    stations = tuple(replace(station, call_sign=call) for call in calls)
    chance = np.array([[0.8 if (i % 2) == (j % 2) else 0.2 for j in range(14)] for i in range(14)])
    chance[12, :] = chance[:, 12] = 0.97
    chance[13, :] = chance[:, 13] = 0.0
    chance[12, 13] = chance[13, 12] = 0.1
    np.fill_diagonal(chance, 0.0)
    made = replace(network, net=replace(network.net, stations=stations), call_signs=calls, pair_chance=chance)
    towns = [calls.index(call) % 2 for call in group_order(made) if calls.index(call) < 12]
    assert towns in ([0] * 6 + [1] * 6, [1] * 6 + [0] * 6)


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


def test_what_the_squares_mean_is_said(opened: OpenNet, monkeypatch: pytest.MonkeyPatch) -> None:
    """Beneath the picture; more stations than can be read with figures are counted there."""
    monkeypatch.setitem(matplotlib.rcParams, "svg.fonttype", "none")
    found = simplex(opened)
    assert "chances in tenths" in hearing_picture(found, form=PictureForm.SVG).decode()
    monkeypatch.setattr("reach.drawings.hearing_plot.MOST_FIGURES", 3)
    crowded = hearing_picture(found, form=PictureForm.SVG).decode()
    assert "4 stations, more than 3" in crowded and "chances in tenths" not in crowded
