"""Every number `reach backup` prints, counted again from the plan it writes beside it."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.answers.small_net import made_in

from .conftest import Run

OUT = {"cut off", "no power", "absent", "internet only"}
_NAMES = re.compile(r"\bQK[0-9][A-Z]+\b|\b[0-9.]+ MHz|\bR[1-5]\b")


def numbers(sentence: str) -> list[str]:
    """What is left to count once call signs, frequencies and grades are out of it, in order."""
    return re.findall(r"\d+(?:\.\d+)?", _NAMES.sub("", sentence))


def in_net(plan: dict[str, Any]) -> list[dict[str, Any]]:
    return [way for way in plan["ways"] if way["part"] not in OUT]


def counted(plan: dict[str, Any], before: int) -> list[str]:
    """The numbers a case's sentence has to state, in order."""
    there = in_net(plan)
    on_the_air = [way for way in plan["ways"] if way["part"] != "internet only"]
    relayed = [way for way in there if way["via"]]
    outage = plan["outage"]
    lost = bool(outage["repeaters"] or outage["stations"] or outage["mains"] == "mains lost")
    found = [len(there), len(on_the_air)]
    found += [before] if lost else []
    found += [len(there) - len(relayed) - (0 if plan["hub"] else 1)]
    if relayed:
        found += [len(relayed), len({relay for way in relayed for relay in way["via"]})]
    dark = [way for way in plan["ways"] if way["part"] == "no power"]
    found += [len(dark)] if dark else []
    return [str(number) for number in found]


def words_of_hours(hours: float) -> str:
    return f"{hours:.1f} h" if round(hours, 1) < 10.0 else f"{round(hours)} h"


@pytest.fixture(scope="module", params=["demo", "small"])
def told(
    request: pytest.FixtureRequest, club: Path, reach_once: Run, tmp_path_factory: pytest.TempPathFactory
) -> tuple[str, dict[str, Any]]:
    """What `reach backup --all` prints, on one line, and the answers it writes."""
    place = tmp_path_factory.mktemp("told")
    folder = club if request.param == "demo" else made_in(place)
    run = reach_once("backup", folder, "--all", "--json", place / "b.json", columns=2000)
    assert run.returncode == 0, run.stderr
    return run.stdout, json.loads((place / "b.json").read_text(encoding="utf-8"))["answers"]


def test_each_case_states_how_many_take_part_and_through_whom(told: tuple[str, dict[str, Any]]) -> None:
    text, answers = told
    before = len(in_net(answers["cases"][0]["plan"]))
    stated = 0
    for case in answers["cases"]:
        (line,) = [row for row in text.splitlines() if row.startswith(f"Case {case['letter']}. ")]
        sentence = line.split(". ", 1)[1].strip()
        plan = case["plan"]
        if not plan["control"]:
            assert "there is no net" in sentence and not in_net(plan)
            continue
        assert numbers(sentence) == counted(plan, before)
        stated += 1
        for way in in_net(plan):
            if not way["via"]:
                continue
            assert set(way["via"]) <= set(re.findall(r"relays? \(([^)]*)\)", sentence)[0].split(", "))
        cut_off = sorted(way["call_sign"] for way in plan["ways"] if way["part"] == "cut off")
        said = re.search(r"cut off: ([^.]*)\.", sentence)
        assert (said[1].split(", ") if said else []) == cut_off
    assert stated


def test_the_net_on_batteries_states_its_hours_and_how_many_are_left(
    told: tuple[str, dict[str, Any]],
) -> None:
    text, answers = told
    lines = [line.strip() for line in text.splitlines()]
    wanted = [
        (words_of_hours(stretch["from_h"]), len(stretch["in_net"]), bool(stretch["control"]))
        for case in answers["cases"]
        if case["timeline"]
        for stretch in case["timeline"]["stretches"][1:]
    ]
    said = [found for line in lines if (found := re.match(r"After ([0-9.]+ h) .*? (?:is|are) silent", line))]
    assert len(said) == len(wanted) > 0
    for found, (hours, left, goes_on) in zip(said, wanted, strict=True):
        assert found[1] == hours
        if goes_on:
            assert numbers(found.string)[-1] == str(left) and found.string.endswith(" in the net.")
        else:
            assert found.string.endswith("no net is left.")
    tables = [case["timeline"]["empty_h"] for case in answers["cases"] if case["timeline"]]
    for empty_h in tables:
        for call, hours in empty_h.items():
            assert re.search(rf"^{call} +{re.escape(words_of_hours(hours))} ", text, re.MULTILINE)


def test_the_sentence_of_single_losses_counts_them(told: tuple[str, dict[str, Any]]) -> None:
    text, answers = told
    points = answers["single_losses"]
    cost = {point["call_sign"]: max(len(c["loses"] or ()) for c in point["costs"]) for point in points}
    costly = [call for call, members in cost.items() if members]
    if not costly:
        assert "No single loss cuts off anybody else, in any of these cases." in text
        return
    (line,) = [row for row in text.splitlines() if "of failure; the worst is" in row]
    assert numbers(line)[:2] == [str(len(costly)), str(len(points))]
    worst = re.search(r"the worst is (\S+): .*, it takes (.*) with it\.", line)
    assert worst is not None
    assert cost[worst[1]] == len(worst[2].split(", ")) == max(cost.values())


def test_the_first_line_states_best_and_worst(told: tuple[str, dict[str, Any]], club: Path) -> None:
    _, answers = told
    reached = [len(in_net(case["plan"])) for case in answers["cases"]]
    assert len(answers["headlines"]) == len(reached)
    for sentence, case in zip(answers["headlines"], answers["cases"], strict=True):
        if case["plan"]["control"]:
            assert numbers(sentence)[0] == str(len(in_net(case["plan"])))
