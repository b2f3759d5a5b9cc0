"""Terminal tables: right figures, narrow terminals, plain ASCII, no text taken for markup or codes."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from reach.drawings.maps.plan_marks import CutOff, PlanMarks
from reach.drawings.style.words import signed
from reach.drawings.tables.control import control_table
from reach.drawings.tables.terminal import (
    Charset,
    Colour,
    answer,
    matrix_text,
    notes_text,
    path_table,
    plan_table,
    quiet_table,
    repeater_table,
    station_table,
    terminal_text,
)
from reach.links.network import SimplexNetwork
from reach.plans.relays.net_control import ControlChoice


@pytest.fixture(scope="module")
def network(invented) -> SimplexNetwork:
    return invented.simplex_network()


def matrix_rows(text: str) -> dict[str, str]:
    """Call sign -> its cells over all blocks, gaps taken out."""
    cells: dict[str, str] = {}
    for row in text.splitlines():
        if found := re.match(r"(QK3\w+)  (.*)$", row):
            kept = "".join(c for i, c in enumerate(found[2]) if i % 6 != 5)
            cells[found[1]] = cells.get(found[1], "") + kept
    return cells


@pytest.mark.parametrize("width", [200, 80, 40, 24])
def test_the_matrix_says_how_the_row_hears_the_column(invented, network, width) -> None:
    text = terminal_text(matrix_text(network, width=width), width=width)
    rows = matrix_rows(text)
    n = len(network.call_signs) - 1  # the last is linked over the internet: named below, not in the rows
    assert set(rows) == set(network.call_signs[:n])
    assert f"No radio path: {network.call_signs[n]}." in text
    for r, call in enumerate(network.call_signs[:n]):
        cells = rows[call]
        assert len(cells) == n
        for c in range(n):
            margin = network.margin_db[c, r] + 5.0  # over 12 dB SINAD: how r hears c
            if r == c:
                assert cells[c] == "-"
            else:
                steps = 1 + sum(margin >= edge for edge in (0.0, 5.0, 8.0, 13.0))
                assert cells[c] == ("." if steps == 1 else str(steps))


def test_two_hundred_stations_stay_within_the_width(invented) -> None:
    big = invented.simplex_network(invented.net(200, 11))
    text = terminal_text(matrix_text(big, width=80), width=80)
    assert max(map(len, text.splitlines())) <= 80
    assert set(map(len, matrix_rows(text).values())) == {199}


def test_matrix_columns_are_named_downwards(network) -> None:
    lines = terminal_text(matrix_text(network, width=120), width=120).splitlines()
    longest = max(map(len, network.call_signs))
    heading = lines[1 : 1 + longest]
    start = longest + 2
    names = [
        "".join(row.ljust(200)[start + i + i // 5] for row in heading) for i in range(len(network.call_signs))
    ]
    assert names[:-1] == list(network.call_signs[:-1])


def test_repeater_table_has_every_member_once_under_its_outcome(invented) -> None:
    network = invented.repeater_network()
    text = terminal_text(repeater_table(network), width=80)
    for member in network.members:
        assert len(re.findall(rf"^{member.call_sign} ", text, flags=re.MULTILINE)) == 1
    both = sum(1 for m in network.members if m.gets_in and m.hears)
    assert f"Get in and hear ({both})" in text
    assert network.no_radio[0] in text
    member = next(m for m in network.members if m.hears and not m.gets_in)
    row = next(line for line in text.splitlines() if line.startswith(member.call_sign))
    assert f"−{abs(member.talk_in.margin_db):.0f}" in row and f"+{member.talk_out.margin_db:.0f}" in row


@pytest.mark.parametrize("width", [40, 48, 60, 80, 120])
def test_tables_fit_the_terminal(invented, network, width) -> None:
    repeater = invented.repeater_network()
    member = repeater.members[0]
    parts = (
        answer("A long answer that has to be broken over several lines on a narrow terminal, and is."),
        repeater_table(repeater, width=width),
        station_table(network),
        plan_table(network, invented.plan_marks(network), width=width),
        path_table(member.talk_in, member.talk_out),
    )
    text = terminal_text(*parts, width=width)
    assert max(map(len, text.splitlines())) <= width
    if width >= 48:
        assert all(call in text for call in network.call_signs)


@pytest.mark.parametrize("width", [40, 57, 58, 65, 71, 72, 120])
def test_a_narrow_terminal_costs_whole_columns_never_the_figures(invented, network, width) -> None:
    control = network.call_signs[7]
    plan = terminal_text(plan_table(network, PlanMarks(control), width=width), width=width)
    shown = {row.split()[0]: row.split()[-1] for row in plan.splitlines() if row.startswith("QK3")}
    for call in network.call_signs[:6]:
        weaker = min(network.link(call, control).margin_db, network.link(control, call).margin_db)
        assert shown[call] == signed(weaker)
    assert ("R5 clear" in plan, " in 10" in plan) == (width >= 72, width >= 58)
    repeater = invented.repeater_network()
    text = terminal_text(repeater_table(repeater, width=width), width=width)
    for member in repeater.members:
        row = next(line for line in text.splitlines() if line.startswith(member.call_sign)).split()
        assert {signed(member.talk_in.margin_db), signed(member.talk_out.margin_db)} <= set(row)


@pytest.mark.parametrize("width", [60, 80])
def test_reasons_stand_below_the_net_controls_and_keep_the_width(width) -> None:
    choices = [
        ControlChoice(n, f"QK3A{n}", 12, 14, 9, 2, 7.5, 11.25, n % 2 == 0, f"QK3A{n} works 9 of 14 directly.")
        for n in range(1, 6)
    ]
    text = terminal_text(control_table(choices, most=4, most_reasons=2), width=width)
    rows = [line.split() for line in text.splitlines() if "12 of 14" in line]
    assert [(row[0], row[1], row[-1]) for row in rows] == [
        (str(n), f"QK3A{n}", "yes" if n % 2 == 0 else "no") for n in range(1, 5)
    ]
    assert width < 80 or all(" ".join(row[-4:-1]) == "7.5 to 11.2" for row in rows)
    assert "and 1 more; `reach control` lists all" in text
    assert "2. QK3A2 works 9 of 14 directly." in text and "3. QK3A3" not in text
    assert "5. QK3A5 works" in terminal_text(control_table(choices), width=width)


def test_plain_ascii_when_asked(invented, network) -> None:
    member = invented.repeater_network().members[0]
    text = terminal_text(
        path_table(member.talk_in, member.talk_out), notes_text(["é − µ"]), width=80, charset=Charset.ASCII
    )
    assert text.isascii()
    assert "signal, uV" in text and "? - u" in text


def test_no_colour_codes_unless_asked(invented) -> None:
    table = repeater_table(invented.repeater_network())
    assert "\x1b" not in terminal_text(table, width=80)
    coloured = terminal_text(table, width=80, colour=Colour.ANSI)
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured).split() == terminal_text(table, width=80).split()


HOSTILE = ("[red]x[/red]", "[/]", "\x1b[31mred", "a\rb", "a\x07b", "a\u202eb", ":smile:", "x\ny")


@pytest.mark.parametrize("text", HOSTILE)
def test_text_is_shown_and_never_obeyed(invented, network, text) -> None:
    out = terminal_text(
        answer(text),
        notes_text([text]),
        quiet_table(text, (("a", "left"),), [(text,)]),
        plan_table(network, PlanMarks(cut_off=(CutOff(network.call_signs[0], text),))),
        matrix_text(invented.with_text(network, text), width=80),
        width=80,
    )
    assert "\x1b" not in out and "\r" not in out and "\x07" not in out and "\u202e" not in out
    shown = {"\x1b": "\\x1b", "\r": "\\x0d", "\x07": "\\x07", "\u202e": "\\u202e", "\n": "\\x0a"}
    assert out.splitlines()[0] == "".join(shown.get(c, c) for c in text)


def test_plan_table_says_who_goes_through_whom(network) -> None:
    a, b, c, d = network.call_signs[:4]
    marks = PlanMarks(a, (b,), {b: (c,)}, (CutOff(d, "Nobody hears it."),))
    text = terminal_text(plan_table(network, marks), width=90)
    rows = {line.split()[0]: line for line in text.splitlines() if line.startswith("QK3")}
    assert "net control" in rows[a] and "relay for 1" in rows[b] and a in rows[b]
    assert f" {b} " in rows[c]
    assert "cut off" in rows[d] and f"{d} is cut off. Nobody hears it." in text
    order = [line.split()[0] for line in text.splitlines() if line.startswith("QK3")]
    assert order[0] == a and order[1] == b


def test_hop_figures_are_those_of_the_weaker_direction(network) -> None:
    control = network.call_signs[7]
    text = terminal_text(plan_table(network, PlanMarks(control)), width=90)
    for call in network.call_signs[:6]:
        weaker = min(network.link(call, control).margin_db, network.link(control, call).margin_db)
        row = next(line for line in text.splitlines() if line.startswith(call))
        assert row.split()[-1].replace("−", "-").replace("+", "") == f"{weaker:.0f}".replace("-0", "0")


def test_a_station_nobody_hears_is_counted_zero(invented, network) -> None:
    margin = network.margin_db.copy()
    margin[3, :] = -20.0
    margin[3, 3] = np.nan
    text = terminal_text(station_table(replace(network, margin_db=margin)), width=80)
    row = next(line for line in text.splitlines() if line.startswith(network.call_signs[3])).split()
    assert row[-3] == "0" and int(row[-2]) > 0
