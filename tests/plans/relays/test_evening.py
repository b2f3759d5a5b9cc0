"""Repeater net and simplex plan side by side."""

from __future__ import annotations

from reach.links.network import DirectedLink, RepeaterMember, RepeaterNetwork, SimplexNetwork
from reach.plans.relays.evening import SimplexPart, plan_evening
from reach.plans.relays.plan import plan_relays
from reach.stations import Antenna, Position, Repeater
from tests.plans.synthetic import call, linked


def repeater_of(
    network: SimplexNetwork, inside: set[int], hearing: set[int], name: str = "QK0R"
) -> RepeaterNetwork:
    repeater = Repeater(name, "Hill", Position(41.2, -38.1), 147.0, 147.6, Antenna(20.0, 5.0), 47.0)

    def link(tx: str, rx: str, works: bool) -> DirectedLink:
        margin_db = 8.0 if works else -8.0
        return DirectedLink(
            tx, rx, 147.0, 1e4, 0.0, 120.0, -100.0, margin_db, 0.9 if works else 0.1, True, 1.0
        )

    members = tuple(
        RepeaterMember(c, link(c, name, i in inside), link(name, c, i in inside or i in hearing))
        for i, c in enumerate(network.call_signs)
    )
    return RepeaterNetwork(network.net, repeater, members)


def test_whom_to_ask_and_who_will_be_alone() -> None:
    # 0 control, 1 relay for 3, 2 stand-by, 4 works only 5 (apart), 6 alone
    network = linked(8, [(0, 1), (0, 2), (1, 3), (2, 3), (4, 5), (0, 7)])
    plan = plan_relays(network, control=call(0))
    evening = plan_evening(plan, [repeater_of(network, inside={0, 1, 3, 4, 6}, hearing={2})])
    assert evening.needed == (call(0), call(1))
    assert evening.tell_beforehand == (call(2),)
    assert evening.invite == (call(3),)
    assert evening.alone == (call(6),)
    assert evening.apart == (call(4),)
    assert evening.only_simplex == (call(7),)
    by_call = {m.call_sign: m for m in evening.members}
    assert by_call[call(3)].via == call(1)
    assert by_call[call(2)].hears == ("QK0R",)
    assert by_call[call(5)].part is SimplexPart.APART
    assert evening.sentence == (
        f"Ask {call(0)}, {call(1)} to stay on for simplex; arrange it beforehand with {call(2)},"
        " not on the repeater;"
        f" {call(6)} will be alone; {call(4)} will hear others but not the net."
    )


def test_the_better_of_two_repeaters_is_named() -> None:
    network = linked(2, [(0, 1)])
    plan = plan_relays(network, control=call(0))
    both = [repeater_of(network, {0, 1}, set(), name) for name in ("QK9R", "QK1R")]
    assert plan_evening(plan, both).members[0].repeater == "QK1R"  # equal chance: by call sign
