"""Backup plan, go-kit and exercise of one net: the same cases, the same words, the same rows."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace

import pytest

from reach.answers.backup import backup, battery_remedy_sentence
from reach.answers.exercise import exercise
from reach.answers.exercise_questions import contact_form, round_questions
from reach.answers.kit import kit
from reach.answers.open_net import OpenNet, open_net
from reach.answers.outages import hours_words, timeline_sentences
from reach.drawings.exports.machine import answer_json
from reach.drawings.maps.backup_page import backup_page
from reach.drawings.papers.exercise_papers import answer_forms, question_forms
from reach.drawings.papers.go_kit import kit_pages
from reach.errors import InputProblem, OutOfRange
from reach.inputs.tonight import present
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
    assert {row[2] for row in found.rows.rows} == {"QK1H", "QK1A"}
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
    """Every number said is a number of the timeline."""
    found = backup(opened, mains=Mains.LOST)
    case = found.cases[-1]
    assert case.timeline is not None and found.cases[0].timeline is None
    said = timeline_sentences(case.timeline, found.channel)
    assert said[0].endswith(f"{len(case.plan.in_net)} in the net.")
    for sentence, stretch in zip(said[1:], case.timeline.stretches[1:]):
        assert sentence.startswith(f"After {hours_words(stretch.from_h)} {', '.join(stretch.gone)} ")
        assert (f"{len(stretch.in_net)} in the net" in sentence) is bool(stretch.control)
    hours = {row[2]: row[-1] for row in found.rows.rows if row[0] == case.letter}
    assert {call: h for call, h in hours.items() if h is not None} == {
        call: h for call, h in case.timeline.empty_h.items() if call.startswith("QK1")
    }


def test_the_first_screen_says_what_the_plans_are(opened: OpenNet) -> None:
    found = backup(opened)
    worst = min(found.cases, key=lambda case: len(case.plan.in_net))
    best = max(len(case.plan.in_net) for case in found.cases)
    assert f"{best} of {found.plans[0].total} take part at best" in found.headline
    assert f"{len(worst.plan.in_net)} in {worst.letter} ({worst.plan.outage.words})" in found.headline
    assert [case.letter for case in found.cases] == list("ABCDEF")[: len(found.cases)]
    assert found.case("b") is found.cases[1]
    with pytest.raises(InputProblem, match='"Z" is no case of this plan; choose one of: A'):
        found.case("Z")


def test_a_change_is_planned_beside_the_net_as_it_is(opened: OpenNet) -> None:
    found = backup(opened, changes=["without QK1A"])
    assert "QK1A" not in found.survey.call_signs
    was = {case.plan.outage: case.plan for case in backup(opened).cases}
    assert found.differences
    for change, case in zip(found.differences, found.cases, strict=True):
        before = was[case.plan.outage]
        assert (change.before, change.after) == (len(before.in_net), len(case.plan.in_net))
        assert set(change.falls_out) == set(before.in_net) - set(case.plan.in_net)


def test_a_changed_station_is_surveyed_anew_on_simplex_and_on_the_repeater(opened: OpenNet) -> None:
    was, now = (backup(opened, changes=wish).survey for wish in ([], ["QK1H height 30 m"]))
    assert now.simplex.link("QK1H", "QK1A").margin_db > was.simplex.link("QK1H", "QK1A").margin_db + 1.0
    assert now.repeater("QK0R").member("QK1H").talk_in != was.repeater("QK0R").member("QK1H").talk_in


def test_who_is_away_is_said_ahead_of_the_cases(opened: OpenNet) -> None:
    tonight = replace(opened, folder=present(opened.folder, without=["QK1F"]))
    for found in (backup(tonight), kit(tonight)):
        assert found.headline.startswith("Without QK1F: 4 of 5 members. ")
    assert "Without QK1F: 4 of 5 members." in backup_page(backup(tonight), tonight.terrain)


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


def test_questions_hold_no_answer_and_answers_are_the_plans(opened: OpenNet) -> None:
    found = exercise(opened, seed=3, rounds=4)
    asked, told = question_forms(found).text(), answer_forms(found).text()
    for r, questions in zip(found.rounds, round_questions(found), strict=True):
        assert r.outage.words in asked and r.outage.words in told
        if r.plan.control:
            where, _, relays, _ = questions.answers
            assert f"under {r.plan.control}" in where
            assert f"{len(r.plan.in_net)} of {r.on_air} on the air take part" in where
            assert f"under {r.plan.control}" not in asked
            for way in r.plan.ways:
                assert (f"{way.call_sign} relays " in relays) is bool(way.serves)
    form = contact_form(found)
    assert form.columns[:8] == ("date", "time", "station", "hears", "on", "heard", "readability", "list")
    pairs = {(row[2], row[3], row[4]) for row in form.rows}
    assert len(pairs) == len(form.rows) > 0
    assert all((b, a, on) in pairs for a, b, on in pairs)  # both ways
