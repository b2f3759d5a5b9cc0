"""Outcome of a member against a repeater."""

from __future__ import annotations

import pytest

from reach.links.network import DirectedLink, RepeaterMember, RepeaterNetwork
from reach.links.outcome import (
    RepeaterOutcome,
    outcome_sentence,
    repeater_outcome,
    with_outcome,
)
from reach.stations import Net


def member(call_sign: str, in_db: float, out_db: float) -> RepeaterMember:
    def link(tx: str, rx: str, margin_db: float) -> DirectedLink:
        return DirectedLink(
            tx=tx,
            rx=rx,
            frequency_mhz=146.0,
            distance_m=1e4,
            bearing_deg=0.0,
            path_loss_db=120.0,
            received_dbm=-100.0,
            margin_db=margin_db,
            chance=0.5,
            line_of_sight=True,
            fresnel_clearance=1.0,
        )

    return RepeaterMember(call_sign, link(call_sign, "QK0R", in_db), link("QK0R", call_sign, out_db))


@pytest.mark.parametrize(
    ("in_db", "out_db", "outcome"),
    [
        (3.0, 8.0, RepeaterOutcome.GETS_IN_AND_HEARS),
        (-2.0, 8.0, RepeaterOutcome.HEARS_ONLY),
        (0.0, -0.5, RepeaterOutcome.GETS_IN_ONLY),
        (-9.0, -4.0, RepeaterOutcome.NEITHER),
    ],
)
def test_each_outcome(in_db: float, out_db: float, outcome: RepeaterOutcome) -> None:
    assert repeater_outcome(member("QK1A", in_db, out_db)) is outcome


def network(club: Net, *members: RepeaterMember) -> RepeaterNetwork:
    return RepeaterNetwork(net=club, repeater=club.repeaters[0], members=members)


def test_the_sentence_counts_everyone_once(club: Net) -> None:
    net = network(
        club,
        member("QK1A", 9.0, 9.0),
        member("QK1B", 2.0, 3.0),
        member("QK1C", -1.0, 3.0),
        member("QK1D", -8.0, -3.0),
    )
    assert outcome_sentence(net) == (
        "2 of 4 get into QK0R and hear it; 1 hears it but does not get in; 1 has no working path."
    )
    assert outcome_sentence(network(club)) == "No member has a radio path to QK0R."
    assert sum(len(with_outcome(net, outcome)) for outcome in RepeaterOutcome) == 4


def test_order_is_by_weaker_direction_then_call_sign(club: Net) -> None:
    net = network(club, member("QK1C", 5.0, 2.0), member("QK1B", 2.0, 9.0), member("QK1A", 7.0, 6.0))
    chosen = with_outcome(net, RepeaterOutcome.GETS_IN_AND_HEARS)
    assert [m.call_sign for m in chosen] == ["QK1A", "QK1B", "QK1C"]
