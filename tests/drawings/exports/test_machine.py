"""CSV that no spreadsheet runs, JSON that any reader takes."""

from __future__ import annotations

import csv
import io
import json
import math
from dataclasses import dataclass
from enum import Enum
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.answers.link_rows import path_rows, repeater_rows, simplex_rows
from reach.drawings.exports.machine import csv_text, json_text, sheet_csv
from reach.links.grade import Grade
from reach.stations import Category


def read(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text)))


@pytest.mark.parametrize(
    "cell",
    ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "  =1+1", "=cmd|' /C calc'!A0", "\uff1d1"],
)
def test_formulas_are_neutralised(cell) -> None:
    assert read(csv_text([(cell, 1.0)], ["name", "db"]))[1][0] == "'" + cell


def test_numbers_stay_numbers() -> None:
    rows = [
        (-3.5, -4, True, False, None, math.nan, math.inf, 1e-9, np.float32(0.5), np.int64(7), np.bool_(True))
    ]
    row = read(csv_text(rows, [str(i) for i in range(11)]))[1]
    assert row == ["-3.5", "-4", "yes", "no", "", "", "", "0.0", "0.5", "7", "yes"]


@settings(deadline=None, max_examples=150)
@given(
    st.lists(
        st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00")), min_size=1, max_size=4
    )
)
def test_any_text_reads_back_but_for_the_apostrophe(cells) -> None:
    text = csv_text([cells], ["c"] * len(cells))
    back = list(csv.reader(io.StringIO(text, newline="")))[1:]
    if cells == [""]:
        assert back == [[""]] or back == [[]]
        return
    assert len(back) == 1
    for cell, seen in zip(cells, back[0]):
        assert seen in (cell, "'" + cell)
        assert not seen.startswith(("=", "+", "-", "@", "\t", "\r"))


def test_rows_of_the_wrong_length_are_refused() -> None:
    with pytest.raises(ValueError, match="row 2 has 1 cells under 2 headings"):
        csv_text([(1, 2), (1,)], ["a", "b"])


def test_lines_end_as_rfc_4180_says() -> None:
    assert csv_text([(1,)], ["a"]) == "a\r\n1\r\n"


@dataclass(frozen=True)
class Inner:
    loss_db: float
    category: Category


@dataclass(frozen=True)
class Outer:
    zulu: str
    alpha: tuple[Inner, ...]
    matrix: np.ndarray
    grade: Grade
    folder: Path
    by_call: dict


def test_json_keeps_order_and_has_no_nan() -> None:
    inner = Inner(math.nan, Category.BASE)
    matrix = np.array([[1.0, np.inf]])
    value = Outer("é<&", (inner,), matrix, Grade.SOLID, Path("a/b"), {"QK3B": 1, "QK3A": {2, 1}})
    text = json_text(value)
    assert json.loads(text) == {
        "zulu": "é<&",
        "alpha": [{"loss_db": None, "category": "base"}],
        "matrix": [[1.0, None]],
        "grade": "solid",
        "folder": "a/b",
        "by_call": {"QK3B": 1, "QK3A": [1, 2]},
    }
    assert list(json.loads(text)) == ["zulu", "alpha", "matrix", "grade", "folder", "by_call"]
    assert "NaN" not in text and text.endswith("}\n")


def test_json_refuses_unknown_things() -> None:
    with pytest.raises(TypeError, match="object has no JSON form"):
        json_text({"a": object()})

    class Odd(Enum):
        ONE = 1

    assert json.loads(json_text({Odd.ONE: 1})) == {"one": 1}
    with pytest.raises(TypeError, match="cannot be a JSON key"):
        json_text({(1, 2): 3})


def test_simplex_sheet_has_one_row_a_direction(invented) -> None:
    network = invented.simplex_network()
    sheet = simplex_rows(network)
    assert len(sheet.rows) == int(np.isfinite(network.margin_db).sum())
    columns = {name: i for i, name in enumerate(sheet.columns)}
    for row in sheet.rows[:40]:
        i, j = network.index(row[columns["hears"]]), network.index(row[columns["station"]])
        assert row[columns["margin_over_workable_db"]] == network.margin_db[i, j]
        assert row[columns["distance_km"]] == network.distance_m[i, j] / 1000.0
    assert len(read(sheet_csv(sheet))) == len(sheet.rows) + 1


def test_a_signal_is_told_in_three_ways(invented) -> None:
    sheet = simplex_rows(invented.simplex_network())
    columns = {name: i for i, name in enumerate(sheet.columns)}
    for row in sheet.rows[:40]:
        dbm = row[columns["received_dbm"]]
        # 1 uV across 50 ohm is 2e-14 W, -106.99 dBm
        assert row[columns["received_uv"]] == pytest.approx(10.0 ** ((dbm + 106.9897) / 20.0), rel=1e-4)
        # IARU Region 1 R.1: S9 is -93 dBm above 30 MHz, 6 dB a unit
        s_unit = min(9, max(0, round((dbm + 93.0) / 6.0) + 9))
        over_db = round(dbm + 93.0)
        assert row[columns["s_meter"]] == (f"S9 + {over_db} dB" if over_db > 0 else f"S{s_unit}")


def test_repeater_sheet_has_every_member(invented) -> None:
    network = invented.repeater_network()
    rows = read(sheet_csv(repeater_rows(network)))
    assert [row[0] for row in rows[1:]] == [m.call_sign for m in network.members] + list(network.no_radio)
    assert rows[-1][2] == "no radio path" and set(rows[-1][3:]) == {""}


def test_path_sheet_has_both_directions(invented) -> None:
    member = invented.repeater_network().members[0]
    rows = path_rows(member.talk_in, member.talk_out).rows
    assert [row[:2] for row in rows] == [
        ("QK3RPT", member.call_sign),
        (member.call_sign, "QK3RPT"),
    ]
