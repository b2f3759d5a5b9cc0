"""Changes in roster.csv: one cell changes and no other byte, whatever editor wrote the file."""

from __future__ import annotations

import csv
import datetime
import io
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import InputProblem
from reach.inputs.roster_edit import KEPT, roster_edit, write_edit

NOW = datetime.datetime(2026, 11, 24, 20, 15)
PLAIN = b'''# our members
call sign,name,category,latitude,longitude,antenna height (ft),power W,notes
QK1A,Ann,base,41.35,-37.95,30,50,

QK1B,"Bea, the ""loud""",base,41.4,-37.9, 20 ,50,"two
lines"
'''


def test_one_cell_changes_and_nothing_else() -> None:
    edit = roster_edit(PLAIN, ["QK1B height 12 m"])
    assert edit.written == PLAIN.replace(b", 20 ,50", b", 12 m,50")
    assert [one.words for one in edit.changes] == ["QK1B, antenna height (ft): 20 becomes 12 m"]


def test_a_move_is_two_cells_and_the_same_value_none() -> None:
    edit = roster_edit(PLAIN, ["QK1A place 41.3,-38", "QK1A power 50"])
    assert edit.written == PLAIN.replace(b"41.35,-37.95", b"41.3,-38")
    assert len(edit.changes) == 2


@pytest.mark.parametrize("encode", [
    lambda text: text.encode(), lambda text: b"\xef\xbb\xbf" + text.encode(),
    lambda text: text.replace("\n", "\r\n").encode(), lambda text: b"\xff\xfe" + text.encode("utf-16-le"),
    lambda text: b"\xfe\xff" + text.encode("utf-16-be"), lambda text: text.replace(",", ";").encode(),
    lambda text: ("sep=;\n" + text.replace(",", ";")).encode(), lambda text: text.rstrip("\n").encode(),
])  # fmt: skip
def test_encodings_separators_and_line_ends_stay(encode) -> None:
    text = "call sign,name,power W\nQK1A,Zoë,50\nQK1B,Bea,25\n"
    after = "call sign,name,power W\nQK1A,Zoë,10\nQK1B,Bea,25\n"
    assert roster_edit(encode(text), ["QK1A power 10"]).written == encode(after)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ("without QK1A", "of tonight only"),
        ("QK1A backup 8 h", "no column for"),
        ("QK9Z power 5 W", "QK9Z is not in roster.csv"),
        ("QK1A place AA00", "in degrees"),
    ],
)
def test_what_no_cell_can_hold_is_refused(change: str, says: str) -> None:
    with pytest.raises(InputProblem) as refused:
        roster_edit(PLAIN, [change])
    assert says in str(refused.value)


CELLS = st.text(st.sampled_from(list('ab ",;#\n\té=')), max_size=6)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.lists(CELLS, min_size=2, max_size=2), min_size=1, max_size=5),
    st.integers(0, 4),
    st.sampled_from([csv.QUOTE_ALL, csv.QUOTE_MINIMAL]),
    st.sampled_from(["\n", "\r\n"]),
)
def test_any_table_keeps_every_other_cell(rows, which: int, quoting: int, end: str) -> None:
    which %= len(rows)
    table = [["call sign", "name", "power W", "notes"]]
    table += [[f"QK1{chr(65 + k)}", name, "50", notes] for k, (name, notes) in enumerate(rows)]
    out = io.StringIO()
    csv.writer(out, quoting=quoting, lineterminator=end).writerows(table)
    raw = out.getvalue().encode()
    try:
        edit = roster_edit(raw, [f"QK1{chr(65 + which)} power 7 W"])
    except InputProblem as problem:
        assert "cannot be told apart" in str(problem)  # refused rather than guessed
        return
    table[which + 1][2] = "7 W"
    again = io.StringIO()
    csv.writer(again, quoting=quoting, lineterminator=end).writerows(table)
    assert edit.written == again.getvalue().encode()


def test_the_file_before_is_kept_and_never_written_over(tmp_path: Path) -> None:
    place = tmp_path / "roster.csv"
    place.write_bytes(PLAIN)
    place.chmod(0o640)
    first = write_edit(tmp_path, roster_edit(PLAIN, ["QK1A power 5"]), now=NOW)
    second = write_edit(tmp_path, roster_edit(place.read_bytes(), ["QK1A power 6"]), now=NOW)
    assert first != second and first.read_bytes() == PLAIN
    assert b"30,6," in place.read_bytes() and place.stat().st_mode & 0o777 == 0o640
    for second_of in range(KEPT + 3):
        later = NOW + datetime.timedelta(seconds=second_of + 1)
        write_edit(tmp_path, roster_edit(place.read_bytes(), [f"QK1A power {second_of + 7}"]), now=later)
    assert len(list(tmp_path.glob("roster.csv.before-*"))) == KEPT


def test_a_file_changed_meanwhile_is_left_alone(tmp_path: Path) -> None:
    place = tmp_path / "roster.csv"
    place.write_bytes(PLAIN)
    edit = roster_edit(PLAIN, ["QK1A power 5"])
    place.write_bytes(PLAIN + b"QK1C,Cy,base,41.3,-37.9,30,50,\n")
    with pytest.raises(InputProblem, match="somebody else"):
        write_edit(tmp_path, edit, now=NOW)
    assert place.read_bytes().endswith(b"QK1C,Cy,base,41.3,-37.9,30,50,\n")
    assert not list(tmp_path.glob("roster.csv.before-*"))


def test_through_a_link_the_target_is_written(tmp_path: Path) -> None:
    target = tmp_path / "shared" / "members.csv"
    target.parent.mkdir()
    target.write_bytes(PLAIN)
    (tmp_path / "roster.csv").symlink_to(target)
    kept = write_edit(tmp_path, roster_edit(PLAIN, ["QK1A power 5"]), now=NOW)
    assert (tmp_path / "roster.csv").is_symlink() and b"30,5," in target.read_bytes()
    assert kept.parent == target.parent
