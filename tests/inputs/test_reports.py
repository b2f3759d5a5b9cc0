"""Reports as people write them: CSV, ADIF and by hand; every fault with its row, good rows kept."""

from __future__ import annotations

import datetime
import os
import time
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.errors import InputProblem
from reach.inputs.adif import adif_text, parse_adi, parse_adx
from reach.inputs.report_files import read_reports
from reach.inputs.reports import ListKind, Outcome, Report, parse_level_dbm
from reach.inputs.reports_adif import reports_of
from reach.inputs.reports_by_hand import looks_like_a_report, parse_spoken
from reach.inputs.reports_csv import Reading, parse_reports
from reach.reports.store import add_reports
from reach.stations import Antenna, Channel, Net, Position, Repeater

NOW = datetime.datetime(2026, 11, 25, 12, 0, tzinfo=datetime.UTC)
RIDGE = Repeater("QK3RA", "Ridge", Position(41.3, -37.9), 146.94, 146.34, Antenna(20.0, 5.0), 47.0)
NET = Net("Small net", (Channel("two metres", 146.52), Channel("seventy", 446.0)), (RIDGE,), ())
AGAINST = Reading(NET, ZoneInfo("America/New_York"), NOW)


def read(text: str) -> list[Report]:
    found = parse_reports(text, file="heard.csv", against=AGAINST)
    assert not found.faults
    return [row.report for row in found.rows]


def test_a_row_with_everything() -> None:
    (report,) = read(
        "date,time,station,hears,on,heard,readability,s_meter,dbm,list,via,by,replaces\n"
        "2026-11-24,19:42,qk3abc,QK3DEF,two metres,yes,R4,S7,-97.5,complete,QK3XYZ,Ann,12\n"
    )
    assert report == Report(
        at=datetime.datetime(2026, 11, 25, 0, 42, tzinfo=datetime.UTC),
        listener="QK3ABC", sender="QK3DEF", on="two metres", readability=4, s_units=7, level_dbm=-97.5,
        level_digit_db=0.1, list_kind=ListKind.COMPLETE, via="QK3XYZ", by="Ann", replaces=12,
    )  # fmt: skip


def test_the_least_a_row_needs() -> None:
    (report,) = read("date;station;hears\n2026-11-24;QK3ABC;QK3DEF\n")
    assert (report.on, report.outcome, report.list_kind) == ("two metres", Outcome.HEARD, ListKind.HEARD_ONLY)


def test_a_file_with_a_no_in_it_is_a_form() -> None:
    reports = read(
        "date,station,hears,heard,readability,list\n2026-11-24,QK3ABC,QK3DEF,yes,4,\n"
        "2026-11-24,QK3ABC,QK3GHI,no,,\n2026-11-24,QK3GHI,QK3ABC,yes,3,\n2026-11-24,QK3DEF,QK3ABC,yes,3,heard\n"
    )
    assert [r.list_kind for r in reports] == [ListKind.COMPLETE] * 3 + [ListKind.HEARD_ONLY]
    assert [r.list_kind for r in read("date,station,hears\n2026-11-24,QK3ABC,QK3DEF\n")] == [
        ListKind.HEARD_ONLY
    ]


@pytest.mark.parametrize(
    ("row", "fault"),
    [
        ("2026-02-30,19:30,QK3ABC,QK3DEF,,,", "row 3.*no day or time there is"),
        ("24.11.2026,19:30,QK3ABC,QK3DEF,,,", 'row 3.*"24.11.2026" is not a date; write it as 2026-11-24'),
        ("2026-11-24,25:30,QK3ABC,QK3DEF,,,", "row 3.*no day or time"),
        ("2027-11-24,19:30,QK3ABC,QK3DEF,,,", "row 3.*still to come"),
        ("1926-11-24,19:30,QK3ABC,QK3DEF,,,", "row 3.*long before any net"),
        ("2026-11-24,19:30,QK3ABC,QK3ABC,,,", "row 3.*QK3ABC is said to hear itself"),
        ("2026-11-24,19:30,QK3 ABC,QK3DEF,,,", "row 3, column station.*not a call sign"),
        ("2026-11-24,19:30,,QK3DEF,,,", "row 3, column station: station is missing"),
        ("2026-11-24,19:30,QK3ABC,QK3DEF,nine metres,,", "row 3.*no channel, repeater or band"),
        ("2026-11-24,19:30,QK3ABC,QK3DEF,,59,", 'row 3, column readability: "59" is not a readability'),
        ("2026-11-24,19:30,QK3ABC,QK3DEF,,,97", "row 3, column dbm.*off the scale"),
        ("2026-11-24,19:30,QK3ABC,QK3DEF,,,-97,x", "row 3: 8 cells under 7 headings"),
    ],
)
def test_a_bad_row_is_named_and_the_others_kept(row: str, fault: str) -> None:
    good = "2026-11-24,19:30,QK3ABC,QK3DEF,two metres,4,-97"
    text = f"date,time,station,hears,on,readability,dbm\n{good}\n{row}\n{good.replace('ABC', 'GHI')}\n"
    found = parse_reports(text, file="heard.csv", against=AGAINST)
    assert [r.report.listener for r in found.rows] == ["QK3ABC", "QK3GHI"]
    assert [r.row for r in found.rows] == [2, 4]
    with pytest.raises(InputProblem, match=fault):
        raise InputProblem(found.faults)


def test_a_file_without_its_columns_is_refused() -> None:
    with pytest.raises(InputProblem, match="no column hears"):
        parse_reports("date,station\n2026-11-24,QK3ABC\n", file="heard.csv", against=AGAINST)
    with pytest.raises(InputProblem, match="is empty"):
        parse_reports("", file="heard.csv", against=AGAINST)


@pytest.mark.parametrize(
    ("line", "listener", "sender", "on", "outcome", "readability"),
    [
        ("QK3ABC hears QK3DEF R4 two metres", "QK3ABC", "QK3DEF", "two metres", Outcome.HEARD, 4),
        ("QK3ABC not heard by QK3RA", "QK3RA", "QK3ABC", "QK3RA", Outcome.NOT_HEARD, None),
        ("qk3abc does not hear qk3def on seventy", "QK3ABC", "QK3DEF", "seventy", Outcome.NOT_HEARD, None),
        ("QK3ABC is heard by QK3DEF r5 146.52", "QK3DEF", "QK3ABC", "two metres", Outcome.HEARD, 5),
        ("QK3ABC heard QK3DEF, R3, 2 m", "QK3ABC", "QK3DEF", "2 m", Outcome.HEARD, 3),
    ],
)
def test_said_by_hand(
    line: str, listener: str, sender: str, on: str, outcome: Outcome, readability: int | None
) -> None:
    assert looks_like_a_report(line)
    found = parse_spoken(line, against=AGAINST)
    assert (found.listener, found.sender, found.on) == (listener, sender, on)
    assert (found.outcome, found.readability, found.list_kind) == (outcome, readability, ListKind.TEST)
    assert abs(found.at - NOW) < datetime.timedelta(minutes=1)


def test_said_with_day_time_level_and_relay() -> None:
    found = parse_spoken("QK3ABC hears QK3DEF -97 dBm via QK3GHI 2026-11-20 at 20:15", against=AGAINST)
    assert found.at == datetime.datetime(2026, 11, 21, 1, 15, tzinfo=datetime.UTC)
    assert (found.level_dbm, found.via, found.on) == (-97.0, "QK3GHI", "two metres")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("QK3ABC hears QK3ABC", "hear itself"),
        ("QK3ABC hears QK3DEF loudly", "no channel, repeater or band"),
        ("QK3ABC likes QK3DEF", "not understood"),
    ],
)
def test_lines_not_understood(line: str, said: str) -> None:
    with pytest.raises(InputProblem, match=said):
        parse_spoken(line, against=AGAINST)


def test_the_header_example_and_a_value_that_holds_tags() -> None:
    log = parse_adi("x <b> y <ADIF_VER:5>3.1.4<EOH><call:6>QK1ABC<COMMENT:9>a<b>c <d><eor>", file="x.adi")
    assert log.header == {"ADIF_VER": "3.1.4"}
    assert [r.fields for r in log.records] == [{"CALL": "QK1ABC", "COMMENT": "a<b>c <d>"}]


@pytest.mark.parametrize("counted", [5, 7], ids=["characters", "bytes"])
def test_lengths_in_characters_or_in_bytes(counted: int) -> None:
    raw = f"<CALL:6>QK1ABC<COMMENT:{counted}>Größe<BAND:2>2m<EOR>".encode()
    (record,) = parse_adi(adif_text(raw), file="x.adi").records
    assert record.fields == {"CALL": "QK1ABC", "COMMENT": "Größe", "BAND": "2m"}


def test_examples_of_the_specification() -> None:
    """The two-record ADI example and the ADX example of ADIF 3.1 (from memory), call signs changed."""
    adi = (
        "Generated on 2011-11-22 at 02:15:23Z for QK4BAN\n\n<adif_ver:5>3.0.5\n<programid:7>monolog\n"
        "<USERDEF1:8:N>QRP_ARCI\n<USERDEF2:19:E>SweaterSize,{S,M,L}\n<USERDEF3:15>ShoeSize,{5:20}\n<EOH>\n\n"
        "<qso_date:8>19900620\n<time_on:4>1523\n<call:5>QK9NS\n<band:3>20M\n<mode:4>RTTY\n<sweatersize:1>M\n"
        "<shoesize:2>11\n<app_monolog_compression:3>off\n<eor>\n\n"
        "<qso_date:8>20101022\n<time_on:4>0111\n<call:5>QK0RU\n<band:3>20M\n<mode:3>PSK\n"
        "<submode:5>PSK63\n<QRP_ARCI:4>1234\n<eor>\n"
    )
    log = parse_adi(adi, file="x.adi")
    assert not log.faults
    assert [(r.fields["CALL"], r.row) for r in log.records] == [("QK9NS", 10), ("QK0RU", 20)]
    assert log.records[0].fields["APP_MONOLOG_COMPRESSION"] == "off"
    adx = (
        '<?xml version="1.0" encoding="UTF-8"?>'
        "<ADX><HEADER><ADIF_VER>3.0.5</ADIF_VER></HEADER><RECORDS><RECORD>"
        "<QSO_DATE>19900620</QSO_DATE><TIME_ON>1523</TIME_ON><CALL>QK9NS</CALL>"
        '<APP PROGRAMID="MONOLOG" FIELDNAME="Compression" TYPE="s">off</APP></RECORD></RECORDS></ADX>'
    )
    (record,) = parse_adx(adx, file="x.adx").records
    assert record.fields["COMPRESSION"] == "off"


def test_the_same_as_a_library_reads() -> None:
    adif_io = pytest.importorskip("adif_io")
    text = "log <adif_ver:5>3.1.4 <eoh>" + "".join(
        f"<call:6>QK{k}ABC <comment:14>in <eor> there <rst_sent:2>59 <eor>\n" for k in range(10)
    )
    records, _ = adif_io.read_from_string(text)
    assert [dict(r) for r in records] == [r.fields for r in parse_adi(text, file="x.adi").records]


def test_a_bad_length_costs_its_record_alone() -> None:
    text = "<CALL:6>QK1ABC<BAND:2>2m<EOR>\n<CALL:x>QK2ABC<BAND:2>2m<EOR>\n<CALL:6>QK3ABC<BAND:2>2m<EOR>\n"
    log = parse_adi(text, file="x.adi")
    assert [r.fields["CALL"] for r in log.records] == ["QK1ABC", "QK3ABC"]
    (fault,) = log.faults
    assert (fault.row, "no length" in fault.problem) == (2, True)
    long = parse_adi("<CALL:60>QK1ABC<BAND:2>2m<EOR>", file="x.adi")
    assert long.records[0].fields == {"CALL": "QK1ABC", "BAND": "2m"}
    assert "wrong length" in long.warnings[0]


def test_xml_with_entities_is_refused() -> None:
    bomb = '<!DOCTYPE a [<!ENTITY b "c">]><ADX><RECORDS/></ADX>'
    with pytest.raises(InputProblem, match="entities"):
        parse_adx(bomb, file="x.adx")


def contact(**fields: str) -> list[Report]:
    usual = {"CALL": "QK3DEF", "QSO_DATE": "20261124", "TIME_ON": "0042", "BAND": "2m", "MODE": "FM",
             "STATION_CALLSIGN": "QK3ABC"}  # fmt: skip
    text = "".join(f"<{k}:{len(v)}>{v}" for k, v in {**usual, **fields}.items() if v) + "<EOR>"
    found = reports_of(parse_adi(text, file="x.adi"), file="x.adi", against=AGAINST)
    if found.faults:
        raise InputProblem(found.faults)
    return [row.report for row in found.rows]


def test_what_a_contact_says() -> None:
    there, back = contact(RST_SENT="57", RST_RCVD="4", FREQ="146.94", PROP_MODE="RPT")
    assert (there.listener, there.sender, there.readability, there.on) == ("QK3ABC", "QK3DEF", 5, "QK3RA")
    assert (back.listener, back.sender, back.readability) == ("QK3DEF", "QK3ABC", 4)
    assert there.list_kind is ListKind.HEARD_ONLY
    assert contact(RST_SENT="+12")[0].readability is None
    assert [r.outcome for r in contact(QSO_COMPLETE="NIL")] == [Outcome.NOT_HEARD]
    assert len(contact(SWL="Y")) == 1
    assert contact(PROP_MODE="RPT")[0].on == "QK3RA"  # the band's only repeater


@pytest.mark.parametrize("fields", [{"PROP_MODE": "ES"}, {"MODE": "SSB"}, {"QSO_COMPLETE": "?"}])
def test_contacts_that_say_nothing_of_these_paths(fields: dict[str, str]) -> None:
    assert contact(**fields) == []


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"FREQ": "146,52"}, "not a frequency in MHz"),
        ({"FREQ": "146520"}, "not a frequency in MHz"),
        ({"BAND": "40m"}, "no band or frequency"),
        ({"QSO_DATE": "20261324"}, "no day or time"),
        ({"CALL": ""}, "CALL is missing"),
        ({"STATION_CALLSIGN": ""}, "whose log it is"),
    ],
)
def test_faults_of_contacts(fields: dict[str, str], said: str) -> None:
    with pytest.raises(InputProblem, match=said):
        contact(**fields)


@given(st.binary(max_size=200))
def test_no_bytes_upset_the_readers(raw: bytes) -> None:
    for parse in (parse_adi, parse_adx):
        try:
            reports_of(parse(adif_text(raw), file="x"), file="x", against=AGAINST)
        except InputProblem:
            continue
    try:
        parse_reports("date,station,hears\n" + adif_text(raw), file="x", against=AGAINST)
    except InputProblem:
        return


def test_levels_keep_their_last_digit() -> None:
    assert parse_level_dbm("-97.5 dBm") == (-97.5, 0.1)
    assert parse_level_dbm("−97") == (-97.0, 1.0)


def test_many_rows(tmp_path: Path) -> None:
    file = tmp_path / "many.csv"
    calls = [f"QK{a}A{b}{c}" for a in range(5) for b in "ABCD" for c in "ABCD"]
    rows = 100_000 if os.environ.get("REACH_LONG") else 5_000
    lines = ["date,time,station,hears,on,heard,readability"]
    for k in range(rows):
        listener, sender = calls[k % 80], calls[(k // 80) % 80]
        when = f"2026-{1 + k % 10:02}-{1 + k % 28:02},19:{k % 60:02}"
        lines.append(f"{when},{listener},{sender if sender != listener else 'QK9X'},146.52,,{1 + k % 5}")
    file.write_text("\n".join(lines), encoding="utf-8")
    began = time.process_time()
    found, _ = read_reports(file, against=AGAINST)
    assert len(found.rows) == rows
    assert not found.faults
    add_reports(tmp_path, found.rows, name="many.csv", fingerprint="x", came=NOW)
    print(f"{rows} rows read and stored in {time.process_time() - began:.1f} s of processor time")
