"""The desk as a program: notes, two windows, killed and started again, closing, paper, files."""

from __future__ import annotations

import signal
import sqlite3
import time
from pathlib import Path

import pytest

from reach.inputs.net_folder import read_net_folder
from reach.reports.store import stored_reports
from tests.answers.small_net import made_in
from tests.desk.running import Client, client, running, start


@pytest.fixture
def page(tmp_path: Path):
    with running(made_in(tmp_path)) as desk:
        ours = client(desk)
        ours.note("opened", {"on": "two metres", "control": "QK1A"})
        yield ours


def in_(page: Client, call: str, kind: str = "base", **more: object) -> int:
    answer = page.note("checked in", {"call": call, "kind": kind, **more})
    assert answer.status == 200, answer.body
    return answer.json["seq"]


def calls(state: dict) -> list[str]:
    return [entry["call"] for group in state["groups"] for entry in group["entries"]]


def planned(page: Client) -> dict:
    """The first plan; on a machine with nothing compiled yet it takes its half minute."""
    for _ in range(600):
        plan = page.state["plan"]
        if plan["ready"] and plan["words"] != "Nobody else is on the air yet.":
            return plan
        time.sleep(0.1)
    raise AssertionError(page.state["plan"])


def test_a_note_shows_in_the_state_that_answers_it(page: Client) -> None:
    in_(page, "QK1B", heard=5, given=4, traffic=True)
    in_(page, "QK9ZZZ")
    state = page.state
    entries = {entry["call"]: entry for group in state["groups"] for entry in group["entries"]}
    assert entries["QK1B"]["heard"] == 5 and entries["QK1B"]["known"] and entries["QK1B"]["traffic"]
    assert not entries["QK9ZZZ"]["known"]
    assert state["counts"] == "2 stations: 2 base" and state["undo"] == "QK9ZZZ checked in"
    plan = planned(page)
    assert plan["relays"] == [] and {one["call"] for one in plan["missing"]} == {"QK1F", "QK1H", "QK1N"}


def test_the_same_token_is_one_note_and_another_window_is_heard(page: Client) -> None:
    body = {"call": "QK1B", "kind": "base"}
    first = page.note("checked in", body, token="token-same")
    assert page.note("checked in", body, token="token-same").json["seq"] == first.json["seq"]
    late = page.note("checked in", {**body, "heard": 2}, seen=1)
    assert late.status == 409 and late.json["events"] == [{"seq": 2, "words": "QK1B checked in"}]
    assert page.note("checked in", {"call": "QK1H", "kind": "battery"}, seen=1).status == 200


def test_a_place_the_net_has_not_is_refused(page: Client) -> None:
    answer = page.note("opened", {"on": "six metres", "control": "QK1A"})
    assert answer.status == 400 and "no longer a channel" in answer.json["why"]


def test_killed_and_started_again_everything_is_there_for_the_open_page(tmp_path: Path) -> None:
    folder = made_in(tmp_path)
    with running(folder) as desk:
        page = client(desk)
        page.note("opened", {"on": "two metres", "control": "QK1A"})
        in_(page, "QK1B")
        desk.process.send_signal(signal.SIGKILL)
        desk.process.wait()
        with running(folder) as again:
            page.desk = again
            assert again.host == desk.host  # the same port, so the page's own address still works
            assert calls(page.state) == ["QK1B"]  # with the cookie it had
            in_(page, "QK1H", "battery")
            assert again.end() == 0
    (kept,) = (folder / "evenings").glob("*.sqlite")
    with sqlite3.connect(kept) as connection:
        assert connection.execute("SELECT COUNT(*) FROM event").fetchone() == (3,)


def test_closing_stores_what_was_typed(page: Client) -> None:
    in_(page, "QK1B", heard=5, given=4)
    page.note("missed", {"call": "QK1H", "by": "QK1A"})
    in_(page, "QK1H", "battery", through="QK1B", relay_heard=3)
    assert page.note("closed", {}).status == 200
    kept = [one.report for one in stored_reports(page.desk.folder)]
    assert [(r.listener, r.sender, r.outcome.value, r.readability) for r in kept] == [
        ("QK1A", "QK1B", "yes", 5),
        ("QK1B", "QK1A", "yes", 4),
        ("QK1B", "QK1H", "yes", 3),
        ("QK1A", "QK1H", "no", None),
    ]
    assert page.state["closed"]
    assert b"Thanks for relaying: QK1B (1)" in page.send("GET", "export.txt").body
    assert page.send("GET", "export.csv").body.count(b"\r\n") == 3
    assert page.send("GET", "export.adi").body.count(b"<EOR>") == 4
    read_net_folder(page.desk.folder)  # evenings do not get in the way of the folder


def test_the_rest_on_paper(page: Client) -> None:
    in_(page, "QK1B")
    answer = page.send("GET", "paper.pdf")
    assert answer.status == 200 and answer.body.startswith(b"%PDF")
    import io

    from pypdf import PdfReader

    text = "".join(sheet.extract_text() for sheet in PdfReader(io.BytesIO(answer.body)).pages)
    assert "In already" in text and "QK1H" in text
    assert text.index("QK1H") < text.index("In already") < text.rindex("QK1B")


def test_handing_over_and_going_on_elsewhere(page: Client) -> None:
    in_(page, "QK1B")
    page.note("handed over", {"to": "QK1B"})
    assert page.state["control"] == "QK1B"
    page.note("opened", {"on": "QK0R", "control": "QK1B"})
    state = page.state
    assert calls(state) == [] and state["earlier"] == ["two metres: 1 station: 1 base"]
    in_(page, "QK1A")
    assert planned(page)["words"] == "All 2 on the air are worked directly."


def test_announcements_and_a_script_of_ones_own(tmp_path: Path) -> None:
    folder = made_in(tmp_path)
    (folder / "announcements.txt").write_text(
        "# for us only\nThe hall is closed.\n\nSwap meet <b>soon</b>.\n"
    )
    with running(folder) as desk:
        page = client(desk)
        page.note("opened", {"on": "two metres", "control": "QK1A"})
        steps = page.state["steps"]
    assert [one["words"] for one in steps if one["heading"] == "Announcement"] == [
        "The hall is closed.",
        "Swap meet <b>soon</b>.",
    ]


def test_who_is_told_and_notes_stay_here(page: Client) -> None:
    page.note("noted", {"call": "QK1B", "text": "speaks softly"})
    told = page.send("GET", "who?call=qk1b").json
    assert told["name"] == "Bea" and told["notes"] == ["speaks softly"]
    assert page.send("GET", "who?call=%3Cscript%3E").status == 400


def test_a_second_desk_of_the_same_evening_says_so(page: Client) -> None:
    with pytest.raises(AssertionError, match="open at another desk"):
        start(page.desk.folder)


def test_interrupted_it_ends_within_two_seconds(page: Client) -> None:
    in_(page, "QK1B")
    began = time.monotonic()
    page.desk.process.send_signal(signal.SIGINT)
    assert page.desk.process.wait(10) == 130
    assert time.monotonic() - began < 4.0  # two, and room for a busy machine
    assert "Traceback" not in page.desk.process.stderr.read()  # type: ignore[union-attr]


def test_a_taken_port_is_said(page: Client, tmp_path: Path) -> None:
    other = made_in(tmp_path / "other")
    with pytest.raises(AssertionError, match=r"port \d+ is taken"):
        start(other, "--port", str(page.desk.port))


@pytest.mark.parametrize(
    ("file", "text", "says"),
    [
        (
            "script.txt",
            "[opening]\nHello {{ nobody }}\n[priority]\n[check_in]\n[relay]\n[closing]\n",
            "row 2",
        ),
        ("script.txt", "[opening]\n[priority]\n[check_in]\n[relay]\n{{ second. }}\n[closing]\n", "[relay]"),
        ("announcements.txt", "x" * 2001, "over 2,000 characters"),
    ],
)
def test_words_that_cannot_be_said_are_refused_before_the_net(
    tmp_path: Path, file: str, text: str, says: str
) -> None:
    folder = made_in(tmp_path)
    (folder / file).write_text(text)
    with pytest.raises(AssertionError) as refused:
        start(folder)
    said = str(refused.value)
    assert file in said and says in said and "Traceback" not in said and len(said.splitlines()) <= 2
