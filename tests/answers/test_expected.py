"""How many are expected to be heard: one definition, the same figure wherever it is said."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from reach.answers.control import RotaWish, control
from reach.answers.open_net import OpenNet, open_net
from reach.answers.relays import relays, what_if
from reach.answers.variant import compared, variant
from reach.demo.folder import make_demo_folder
from reach.plans.relays.net_control import plan_under
from reach.plans.relays.what_if import Aspect
from tests.answers.test_turns import NOW


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory, land_shaped_once: None) -> Iterator[OpenNet]:
    folder = tmp_path_factory.mktemp("club")
    make_demo_folder(folder)
    with open_net(folder) as made:
        yield made


def test_the_ranking_and_the_plan_of_each_net_control_say_the_same(opened: OpenNet) -> None:
    """Alone it hears what its plan says it hears; a plan never expects more than the ranking's most."""
    ranked = control(opened, RotaWish(start=NOW)).controls
    network = relays(opened).network
    assert len(ranked) > 3
    for one in ranked:
        plan = plan_under(network, control=one.call_sign)
        assert plan.expected_direct == pytest.approx(one.expected_direct, abs=1e-9)
        assert plan.expected_direct <= plan.expected_heard <= one.expected_at_most + 1e-9
        assert f"expects to hear {plan.expected_direct:.1f} itself" in one.reason


def test_plan_change_and_desk_say_the_same(opened: OpenNet) -> None:
    found = relays(opened)
    heard, on_air = found.plan.expected_heard, found.plan.on_air
    assert f"each on its first way: {heard:.1f} of {on_air}" in found.basis
    today = variant(opened, (), found.channel)
    assert today.plan is not None and today.plan.expected_heard == pytest.approx(heard)
    change = "QK3ALD power 5 W"
    told = {one.aspect: one for one in what_if(opened, changes=[change]).differences}[Aspect.EXPECTED]
    other = variant(opened, [change], found.channel)
    assert other.plan is not None
    assert (told.before, told.after) == (f"{heard:.1f}", f"{other.plan.expected_heard:.1f}")
    rows = {what: (before, after) for what, before, after in compared(today, other).rows}
    assert rows["Expected heard"][0] == f"{heard:.1f} of {on_air}"
