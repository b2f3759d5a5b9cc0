"""The run sheet after an outage says what the backup plan and the kit pages say."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from reach.answers.backup import backup
from reach.answers.kit import kit
from reach.answers.open_net import OpenNet, open_net
from reach.answers.outage_sheet import outage_sheet
from reach.drawings.papers.forms import run_sheet_forms
from reach.drawings.papers.go_kit import kit_pages
from reach.errors import InputProblem, NoPlan
from reach.plans.outages.failures import Mains
from tests.answers.small_net import made_in


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenNet]:
    with open_net(made_in(tmp_path_factory.mktemp("small"))) as net:
        yield net


@pytest.mark.parametrize(("down", "mains"), [(("QK0R",), Mains.ON), (("QK1H",), Mains.ON), ((), Mains.LOST)])
def test_sheet_and_backup_and_kit_agree(opened: OpenNet, down: tuple[str, ...], mains: Mains) -> None:
    case = backup(opened, down=down, mains=mains).cases[-1]
    plan = case.plan
    found = outage_sheet(opened, down=down, mains=mains)
    assert found.headline == plan.sentence
    assert found.plan.control == plan.control
    assert found.occasion.stand_in == (plan.stand_in.call_sign if plan.stand_in else "")
    called = {found.plan.control, *found.plan.direct, *(s.call_sign for s in found.plan.relayed)}
    assert called == set(plan.in_net)
    assert {out.call_sign for out in found.plan.left_out} == set(plan.cut_off)
    text = run_sheet_forms(found).text()
    assert plan.outage.words in text and "Net control" in text and plan.control in text
    assert ("Net on" in text) is bool(plan.hub)
    assert ("(off)" in text) is bool({*plan.outage.repeaters, *plan.standing.dark_repeaters})
    for dark in plan.standing.dark:
        assert dark not in called
    same = [c for c in kit(opened).cases if c.plan.outage == plan.outage]
    if same:
        pages = {page.call_sign: page for page in kit_pages(kit(opened))}
        leads = [c for c in pages[plan.control].cases if "net control" in c.whom]
        assert same[0].plan == plan and leads


def test_what_cannot_be_run_is_said_in_a_line(opened: OpenNet) -> None:
    with pytest.raises(InputProblem, match=r"nothing is lost; name what is with --down"):
        outage_sheet(opened)
    with pytest.raises(
        InputProblem, match=r"QK1B has no backup power in this case, so it cannot be net control"
    ):
        outage_sheet(opened, mains=Mains.LOST, control="QK1B")
    with pytest.raises(InputProblem, match=r"QK1A is absent in this case"):
        outage_sheet(opened, down=["QK1A"], control="QK1A")
    with pytest.raises(NoPlan, match=r"only QK1A is left on the air"):
        outage_sheet(opened, down=["QK1B", "QK1F", "QK1H"])
