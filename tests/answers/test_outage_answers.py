"""Backup plan, go-kit and exercise of one net: the same cases, the same words, the same rows."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest

from reach.answers.backup import backup, battery_remedy_sentence, endurance_sentence
from reach.answers.exercise import exercise
from reach.answers.kit import kit
from reach.answers.open_net import OpenNet, open_net
from reach.drawings.exports.machine import answer_json
from reach.drawings.papers.go_kit import kit_pages
from reach.errors import InputProblem, OutOfRange
from reach.plans.outages.failures import Mains
from reach.plans.outages.remedies import BatteryRemedy
from tests.answers.small_net import made_in


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenNet]:
    with open_net(made_in(tmp_path_factory.mktemp("small"))) as net:
        yield net


def test_backup_and_kit_plan_the_same_cases(opened: OpenNet) -> None:
    plans = backup(opened).plans
    assert kit(opened).plans == plans
    assert [plan.outage.words for plan in plans][:2] == ["Nothing lost", "QK0R down"]
    whole = kit(opened)
    assert whole.rows == backup(opened).rows
    assert whole.operators == tuple(station.call_sign for station in opened.net.stations)


def test_a_kit_for_some_holds_their_pages_in_their_order(opened: OpenNet) -> None:
    found = kit(opened, operators=["QK1H", "qk1a", "QK1H"])
    assert [page.call_sign for page in kit_pages(found)] == ["QK1H", "QK1A"]
    assert {row[1] for row in found.rows.rows} == {"QK1H", "QK1A"}
    assert found.made_from.startswith("Planned from our-net/net.toml and roster.csv, path-loss model ")
    with pytest.raises(InputProblem, match="QK9Z"):
        kit(opened, operators=["QK9Z"])


def test_a_named_outage_stands_beside_the_net_as_it_is(opened: OpenNet) -> None:
    found = backup(opened, down=["qk0r", "QK1H"], mains=Mains.LOST)
    assert [plan.outage.words for plan in found.plans] == [
        "Nothing lost",
        "QK0R down, mains lost, QK1H absent",
    ]
    assert len(found.remedies) == len(found.batteries) == len(found.plans) == 2
    assert found.headline == found.headlines[-1]
    assert len(found.rows.rows) == 2 * len(opened.net.stations)
    with pytest.raises(InputProblem) as refused:
        backup(opened, down=["QK9Y", "QK9Z"])
    assert len(refused.value.faults) == 2


def test_an_exercise_reads_back_as_its_rows(opened: OpenNet) -> None:
    found = exercise(opened, seed=3, rounds=4)
    assert found.rows == exercise(opened, seed=3, rounds=4).rows
    answers = json.loads(answer_json(found))["answers"]
    assert (answers["seed"], len(answers["rounds"])) == (3, 4)
    assert answers["headline"] == found.headline
    with pytest.raises(OutOfRange, match="1 to 1000 rounds"):
        exercise(opened, rounds=0)


def test_the_net_on_batteries_hour_by_hour(opened: OpenNet) -> None:
    lost = backup(opened, mains=Mains.LOST).plans[-1]
    assert endurance_sentence(lost).startswith(f"{len(lost.in_net)} in the net at first")
    assert endurance_sentence(backup(opened).plans[0]) == ""


@pytest.mark.parametrize(
    ("found", "words"),
    [
        ((), ""),
        ((BatteryRemedy("QK1A", ()),), "One battery more would bring nobody in."),
        (
            (BatteryRemedy("QK1A", ("QK1A",)), BatteryRemedy("QK1B", ("QK1B",))),
            "One battery more brings in one member, its owner: QK1A, QK1B.",
        ),
        (
            (BatteryRemedy("QK0R", ("QK1A", "QK1B")), BatteryRemedy("QK1A", ("QK1A", "QK1F"))),
            "One battery more helps most at QK0R: QK1A, QK1B come in (as many as at QK1A).",
        ),
    ],
)
def test_where_one_battery_more_helps_most(found: tuple[BatteryRemedy, ...], words: str) -> None:
    assert battery_remedy_sentence(found) == words
