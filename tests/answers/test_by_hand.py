"""What those left out can do by hand: said only when planning it brings them in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from reach.answers.by_hand import MOST_HELPED, ByHand
from reach.answers.open_net import OpenNet, open_net
from reach.answers.relays import changed_plan, relays
from reach.answers.surveys import simplex_paths
from reach.drawings.tables.relays import relays_screen
from reach.drawings.tables.terminal import terminal_text
from reach.inputs.deeds import deeds_of
from reach.machinery.progress import unwatched
from reach.plans.relays.near_fix import reached_from
from tests.answers.conftest import write_net

CELLARS = 9  # handhelds in basements, more than are looked at


@pytest.fixture(scope="module")
def cellars(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenNet]:
    """Bases that hear each other, and handhelds in basements a few kilometres off."""
    folder: Path = tmp_path_factory.mktemp("cellars") / "net"
    write_net(folder, members=[])
    rows = ["call_sign,category,latitude,longitude,surroundings,relay,control"]
    rows += [f"QK1B{chr(65 + k)},base,{41.43 + 0.003 * k:.4f},-37.86,,yes,yes" for k in range(CELLARS + 6)]
    rows += [
        f"QK1H{chr(65 + k)},portable,{41.30 + 0.01 * k:.4f},-37.83,basement,no,no" for k in range(CELLARS)
    ]
    rows += ["QK1FAR,portable,41.27,-37.95,basement,no,no"]
    (folder / "roster.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    with open_net(folder) as net:
        yield net


def test_every_deed_said_brings_its_member_in_and_no_easier_one_does(cellars: OpenNet) -> None:
    found = relays(cellars)
    plan, channel = found.plan, found.channel
    out = {one.call_sign for one in plan.left_out}
    assert len(out) > MOST_HELPED and len(found.by_hand) == MOST_HELPED
    assert any(one.deed for one in found.by_hand)
    for one in found.by_hand:
        for deed in deeds_of(cellars.net.station(one.call_sign)):
            stations = tuple(
                deed.station if s.call_sign == one.call_sign else s for s in cellars.net.stations
            )
            changed = replace(cellars.net, stations=stations)
            anew = changed_plan(
                cellars, changed, before=plan, channel=channel, rules=plan.rules, control=plan.control
            )
            still_out = {left.call_sign for left in anew.plan.left_out}
            helps = one.call_sign not in still_out
            assert helps is (deed.words == one.deed), (one, deed.words)
            if helps:
                assert set(one.others) == out - still_out - {one.call_sign}
                break


def test_the_screen_says_deeds_and_no_decibels(cellars: OpenNet) -> None:
    found = relays(cellars)
    text = terminal_text(*relays_screen(found), width=200)
    assert text.count("by hand: ") == MOST_HELPED
    assert "dB more at" not in text
    assert found.figures.by_hand == found.by_hand


def test_whom_a_plan_reaches_is_whom_it_does_not_leave_out(cellars: OpenNet) -> None:
    found = relays(cellars)
    network = simplex_paths(cellars, found.channel, watch=unwatched)
    reached = reached_from(network, found.plan.rules, control=found.plan.control)
    assert reached == {s.call_sign for s in cellars.net.stations} - {
        one.call_sign for one in found.plan.left_out
    }


def test_words() -> None:
    outside = ByHand("QK1HA", "goes outside", ("goes outside",), ("QK1HB",))
    assert outside.words == "QK1HA comes in when it goes outside; then QK1HB does too."
    nothing = ByHand("QK1HA", "", ("goes outside", "hangs a roll-up j-pole at 6 m outside"))
    assert nothing.words == (
        "QK1HA: nothing it can do where it is brings it in (tried: it goes outside, hangs a roll-up j-pole "
        "at 6 m outside); `reach sites FOLDER --for QK1HA` finds where to go."
    )
