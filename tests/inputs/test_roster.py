"""Rosters as spreadsheets write them, good and bad."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import InputProblem
from reach.inputs.roster import MOST_MEMBERS, parse_attendance, parse_roster, read_roster
from reach.stations import Category

HEAD = "call_sign,name,latitude,longitude,category"
THREE = f"{HEAD}\nQK3ABC,Ann,41.2,-38.1,base\nQK3ABD,Bo,41.3,-38.2,mobile\nQK3ABE,Cy,41.25,-38.15,portable\n"


def faults(text: str) -> list[str]:
    with pytest.raises(InputProblem) as refused:
        parse_roster(text)
    return str(refused.value).splitlines()


def test_the_compulsory_columns_are_enough() -> None:
    roster = parse_roster("call_sign,latitude,longitude,category\nqk3abc,41.2,-38.1,base\n")
    (station,) = roster.stations
    assert station.call_sign == "QK3ABC" and station.category is Category.BASE
    assert station.position.latitude_deg == 41.2 and station.position.longitude_deg == -38.1
    assert len(station.assumed) == 7 and station.land is None
    assert roster.warnings == ()


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_separators_line_ends_and_marks(tmp_path: Path, separator: str, ends: str, mark: str) -> None:
    text = mark + THREE.replace(",", separator).replace("\n", ends)
    path = tmp_path / "roster.csv"
    path.write_bytes(text.encode("utf-8"))
    assert read_roster(path).stations == parse_roster(THREE).stations


def test_utf_16_of_a_spreadsheet_is_read(tmp_path: Path) -> None:
    path = tmp_path / "roster.csv"
    path.write_bytes(THREE.replace(",", "\t").encode("utf-16"))
    assert read_roster(path).stations == parse_roster(THREE).stations


def test_blank_and_comment_lines_are_passed_over_and_rows_still_counted() -> None:
    text = f'# note "with a quote\n\n{HEAD}\n,,,,\n# another, "\nQK3ABC,Ann,41.2,-38.1,bse\n'
    assert faults(text) == [
        'roster.csv, row 6, column category: "bse" is not a category; did you mean base? '
        "If not, write base, mobile, portable or internet."
    ]


def test_quoted_cells_may_hold_separators_and_line_ends() -> None:
    roster = parse_roster(
        f'{HEAD}\nQK3ABC,"Ann, of\nthe hill",41.2,-38.1,base\nQK3ABD,"a ""b"" c",41.3,-38.1,base\n'
    )
    assert [s.name for s in roster.stations] == ["Ann, of the hill", 'a "b" c']
    assert faults(f'{HEAD}\nQK3ABC,"two\nlines",41.2,-38.1,base\nQK3ABD,,x,-38.1,base\n')[0].startswith(
        "roster.csv, row 4, column latitude:"
    )


def test_a_column_of_numbers_and_errors_of_the_spreadsheet_are_no_notes() -> None:
    numbered = "#," + HEAD + "\n1,QK3ABC,Ann,41.2,-38.1,base\n2,QK3ABD,Bo,41.3,-38.1,base\n"
    roster = parse_roster(numbered)
    assert len(roster.stations) == 2 and "column #" in roster.warnings[0]
    assert faults(f"{HEAD}\n#REF!,Ann,41.2,-38.1,base\n") == [
        'roster.csv, row 2, column call_sign: "#REF!" is a spreadsheet\'s own error; '
        "mend its formula or type the value."
    ]


def test_separator_declared_by_the_spreadsheet() -> None:
    assert len(parse_roster("sep=;\n" + THREE.replace(",", ";")).stations) == 3


def test_headings_as_people_write_them() -> None:
    text = (
        "Callsign;Operator;Lat;Lon;Category;Antenna height (ft);Power [W];Antenna;Feed line;"
        "Backup;Net control;Relay\n"
        "QK3ABC;Ann;41,2;-38,1;Hand-held;35;5;6 dBd;RG-58 3 m;12 Ah;x;yes\n"
    )
    roster = parse_roster(text)
    (station,) = roster.stations
    assert station.category is Category.PORTABLE
    assert station.antenna.height_m == pytest.approx(10.668)
    assert station.antenna.gain_dbi == pytest.approx(8.15)
    assert station.transmit_power_dbm == pytest.approx(36.9897, abs=1e-4)
    assert station.backup is not None and station.backup.battery_ah == 12.0
    assert station.willing_control and station.willing_relay and not station.brief
    assert roster.warnings == ()


def test_unknown_columns_warn_with_the_nearest_name() -> None:
    roster = parse_roster(f"{HEAD},antena_height_m,shoe size\nQK3ABC,Ann,41.2,-38.1,base,9,44\n")
    assert roster.warnings[0] == (
        "roster.csv, column antena_height_m is not a name known here and is ignored; "
        "did you mean antenna_height_m?"
    )
    assert "shoe size" in roster.warnings[1]


def test_all_faults_come_at_once_with_their_place() -> None:
    text = (
        f"{HEAD},antenna_height_ft,power_w\n"
        "QK3ABC,Ann,41.2,-38.1,base,35 fee,50\n"
        "QK3ABD,Bo,95,-38.1,boat,,-5\n"
        ",Cy,41.2,-38.1,base,,\n"
        "QK3ABC,Di,41.2,,base,,\n"
        "QK3ABE,Ed,41.2,-38.1\n"
        "QK3ABF,Flo,41.2,-38.1,base,1,2,extra\n"
    )
    found = faults(text)
    assert found[0] == (
        'roster.csv, row 2, column antenna_height_ft: "35 fee" is not a length; write 35 ft or 10.7 m.'
    )
    rows = [line.split(",")[1].split(":")[0].strip() for line in found]
    assert rows == ["row 2", "row 3", "row 3", "row 3", "row 4", "row 5", "row 5", "row 6", "row 7"]
    assert any("is already in row 2" in line for line in found)
    assert any("call_sign is missing" in line for line in found)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "roster.csv: is empty"),
        ("\n\n# only notes\n", "roster.csv: is empty"),
        (HEAD + "\n", "has no members below its headings"),
        ("name,latitude\nAnn,3\n", "there is no column call_sign"),
        (
            "Call,lat,lon,category\n,1,2,base\n",
            "row 2, column Call: call_sign is missing; write the member's call",
        ),
        (
            "call sing,lat,lon,category\nQK3ABC,1,2,base\n",
            'there is no column call_sign; "call_sing" looks like it',
        ),
        (
            "call_sign,category\nQK3ABC,base\n",
            "there is no position; add the columns latitude and longitude, or locator",
        ),
        (f"{HEAD},lat\nQK3ABC,A,1,2,base,3\n", "column lat: says the same as column latitude"),
        (f'{HEAD}\nQK3ABC,"Ann,41.2,-38.1,base\n', "row 2: a quotation mark is opened and not closed"),
        (f"{HEAD}\nQK3ABC,Ann,nan,inf,base\n", "is not a latitude"),
        (f"{HEAD},power_w\nQK3ABC,Ann,41,-38,base,1e999\n", "is too large"),
        (f"{HEAD},antenna_height_m\nQK3ABC,Ann,41,-38,base,-9\n", "outside 0.1 to 1000 m"),
        (f"{HEAD}\nQK3ABC,Ann,-138.1,41.2,base\n", "look swapped; exchange the two"),
        (f"{HEAD}\nQK3ABC,\x1b[31mAnn,41,-38,base\n", "holds the control character U+001B"),
        (f"{HEAD}\nQK3ABC,An\u202en,41,-38,base\n", "holds the control character U+202E"),
        (f"{HEAD}\nQK3 ABC,Ann,41,-38,base\n", "is not a call sign"),
        (f"{HEAD}\nQK3ABC,{'A' * 200},41,-38,base\n", "has 200 characters; shorten it to 80"),
        (f"{HEAD}\nQK3ABC,{'A' * 200_000},41,-38,base\n", "row 2: a cell is longer than"),
    ],
)
def test_refused_rosters(text: str, words: str) -> None:
    assert any(words in line for line in faults(text)), faults(text)


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", "{{ 7 * 7 }}", "{% raw", "=SUM(A1)", "+1", "@x", "`${1}`"]
)
def test_names_are_text_whatever_they_hold(name: str) -> None:
    (station,) = parse_roster(f'{HEAD}\nQK3ABC,"{name}",41.2,-38.1,base\n').stations
    assert station.name == name


@pytest.mark.parametrize(
    "typed",
    ["ANNE", "=1+1", "../../ETC", "<B>", "QK3", "3ABC", "11A1A", "QK3AB9", "QK3A/", "/QK3A", "QK3A//P"],
)
def test_what_is_no_call_sign_is_a_fault(typed: str) -> None:
    (line,) = faults(f"{HEAD}\n{typed},Ann,41.2,-38.1,base\n")
    assert line.startswith("roster.csv, row 2, column call_sign:") and "is not a call sign; write" in line


@pytest.mark.parametrize(
    "typed",
    ["QK3ABC", "Q1A", "QK0R", "QK000A", "QK3ABC/P", "QK3ABC/M", "QK3RA/R", "Q2/QK3ABC/P", "Q9A", "qk3abc",
     "3Q0A", "3QA0AB", "QK100ABC", "QK3ABC-7", "QK3ABC/MM"],
)  # fmt: skip
def test_call_signs_as_the_itu_forms_them(typed: str) -> None:
    (station,) = parse_roster(f"{HEAD}\n{typed},Ann,41.2,-38.1,base\n").stations
    assert station.call_sign == typed.upper()


def test_locators_of_four_are_refused_and_of_six_warned_of() -> None:
    head = "call_sign,locator,category\n"
    assert "too coarse for a radio path" in faults(head + "QK3ABC,HN01,base\n")[0]
    assert "column locator" in faults(head + "QK3ABC,HN01,base\n")[0]
    roster = parse_roster(head + "QK3ABC,HN01wh,base\n")
    assert "a 6-character locator may be off by 4 km" in roster.warnings[0] or "by 5 km" in roster.warnings[0]
    assert parse_roster(head + "QK3ABC,HN01wh55,base\n").warnings == ()
    assert parse_roster(head + "QK3ABC,HN01,internet\n").warnings == ()


def test_coordinates_and_locator_must_agree() -> None:
    head = "call_sign,latitude,longitude,locator,category\n"
    assert (
        parse_roster(head + "QK3ABC,41.3125,-38.125,HN01wh,base\n").stations[0].position.uncertainty_m == 0.0
    )
    assert "different places" in faults(head + "QK3ABC,41.3125,-38.125,HN11wh,base\n")[0]


@pytest.mark.parametrize(
    ("stray", "cause"),
    [
        ("-38.1,41.2", "latitude and longitude look swapped"),
        ("41.2,38.1", "the sign of the longitude looks wrong"),
        ("-41.2,-38.1", "the sign of the latitude looks wrong"),
        ("38.1,41.2", "swapped, with a sign lost"),
        ("10.0,10.0", "check the position"),
    ],
)
def test_a_stray_position_is_noticed_and_its_cause_guessed(stray: str, cause: str) -> None:
    roster = parse_roster(f"{THREE}QK3ABF,Di,{stray},base\n")
    (warning,) = roster.warnings
    assert cause in warning and "row 5, QK3ABF" in warning


def test_internet_members_have_no_radio_and_assume_nothing() -> None:
    (station,) = parse_roster(f"{HEAD}\nQK3ABC,Ann,41.2,-38.1,internet\n").stations
    assert not station.has_radio_path and station.assumed == ()


def test_too_many_rows_are_one_clear_line() -> None:
    rows = "".join(f"QK{n % 10}A{n}A,N,41.2,-38.1,base\n" for n in range(10_000))
    found = faults(f"{HEAD}\n{rows}")
    assert found == [
        f"roster.csv, row {MOST_MEMBERS + 2}: has more than {MOST_MEMBERS} members; split the roster."
    ]


def test_the_largest_roster_is_read() -> None:
    rows = "".join(f"QK3{n}A,N,41.2,-38.1,base\n" for n in range(MOST_MEMBERS))
    assert len(parse_roster(f"{HEAD}\n{rows}").stations) == MOST_MEMBERS


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (
            THREE.replace("Ann", "Añn").encode("latin-1"),
            r"row 2: is not UTF-8 text \(byte 0xf1\); save it again as UTF-8",
        ),
        (b"\x00\x01\x02", "it holds zero bytes"),
        (THREE.encode("utf-16-le"), "it holds zero bytes"),
        (b"\xff\xfeA", "is not UTF-8 text"),
        (b"PK\x03\x04\x14\x00\x06\x00", r"not a text file|not UTF-8"),
    ],
)
def test_files_that_are_no_text(tmp_path: Path, data: bytes, words: str) -> None:
    path = tmp_path / "roster.csv"
    path.write_bytes(data)
    with pytest.raises(InputProblem, match=words):
        read_roster(path)


def test_huge_missing_and_folder(tmp_path: Path) -> None:
    path = tmp_path / "roster.csv"
    with pytest.raises(InputProblem, match=r"roster\.csv: there is no such file"):
        read_roster(path)
    with path.open("wb") as file:
        file.truncate(21_000_000)
    with pytest.raises(InputProblem, match="has 21 MB; at most 20 MB"):
        read_roster(path)
    with pytest.raises(InputProblem, match="is a folder"):
        read_roster(tmp_path)


CELLS = st.one_of(
    st.text(max_size=12), st.sampled_from(["QK3ABC", "41.2", "-38.1", "base", '"', "#", "5 W", "HN01wh"])
)


@settings(deadline=None, max_examples=200)
@given(
    rows=st.lists(st.lists(CELLS, max_size=8), max_size=6),
    head=st.sampled_from(["", HEAD, HEAD + ",power,antenna,notes", "call,locator,category"]),
    separator=st.sampled_from([",", ";", "\t"]),
)
def test_any_text_is_read_or_refused(rows: list[list[str]], head: str, separator: str) -> None:
    text = "\n".join([head.replace(",", separator), *(separator.join(row) for row in rows)])
    try:
        parse_roster(text)
    except InputProblem as problem:
        assert problem.faults and all(fault.file == "roster.csv" for fault in problem.faults)


@settings(deadline=None, max_examples=100)
@given(text=st.text(max_size=300))
def test_random_text_is_read_or_refused(text: str) -> None:
    try:
        parse_roster(text)
    except InputProblem as problem:
        assert problem.faults


@pytest.mark.parametrize(
    ("text", "share"),
    [("80 %", 0.8), ("0.5", 0.5), ("3 in 4", 0.75), ("3/4", 0.75), ("1", 1.0), ("0", 0.0), ("7 of 10", 0.7)],
)
def test_attendance_as_people_write_it(text: str, share: float) -> None:
    assert parse_attendance(text) == pytest.approx(share)


@pytest.mark.parametrize("text", ["80", "-1 %", "often", "5 in 4", "1 in 0", "nan"])
def test_attendance_that_is_none(text: str) -> None:
    with pytest.raises(InputProblem):
        parse_attendance(text)


def test_whoever_is_linked_over_the_internet_need_not_say_where() -> None:
    text = "call_sign,category,locator\nQK1A,base,HN11bi72\nQK1N,internet,\nQK1M,internet,JN58td\n"
    _, nowhere, somewhere = parse_roster(text).stations
    assert not nowhere.position.is_known
    assert somewhere.position.is_known
    with pytest.raises(InputProblem, match="position is missing"):
        parse_roster("call_sign,category,locator\nQK1A,base,\n")
