"""The run sheet: everything a net control needs, on one page, whatever names hold."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from pypdf import PdfReader

from reach.answers.run_sheet import Occasion, sheet_of_plan
from reach.drawings.papers.paper import Paper
from reach.drawings.papers.run_sheet import (
    CheckIn,
    RunSheet,
    check_in_of,
    default_script,
    sheet_text,
    written_sheet,
)
from reach.drawings.papers.sheet_page import sheet_page
from reach.drawings.papers.sheet_pdf import sheet_pdf
from reach.drawings.papers.spoken import CODE_WORDS, spoken
from reach.errors import InputProblem
from reach.links.network import SimplexNetwork
from reach.plans.relays.evening import Evening
from reach.plans.relays.plan import plan_relays
from reach.stations import Antenna, Category, Channel, Position, Repeater, Station
from tests.plans.synthetic import call, network_of, station

NAMES = (
    "Ridge Farm", "Old Quay", "Mill Lane", "High Wood", "Sandbar", "Chapel Hill", "Two Bridges", "Foxholes",
    "Long Meadow", "Kiln Yard", "Eastfield", "Harbour Office", "Signal House", "Weir Cottage", "Top Barn",
    "Ferry Steps",
)  # fmt: skip
REPEATER = Repeater(
    "QK0RPT", "Hill", Position(41.2, -38.1), 147.06, 147.66, Antenna(20.0, 5.0), 47.0, tone_hz=100.0
)
OCCASION = Occasion(
    made_from="Planned 2026-11-25 from net.toml, roster.csv of 2026-11-20, tiles n41w039; model P.1812.",
    date="Tue 2026-12-01", time="19:30 UTC", stand_in=call(3),
)  # fmt: skip


def club(n: int = 24, names: tuple[str, ...] = NAMES) -> SimplexNetwork:
    """0 controls, most are direct, five hang on 1, two on 2, the last is out of reach, two are
    internet-linked."""
    kinds = {n - 2: Category.INTERNET, n - 3: Category.INTERNET, 5: Category.MOBILE, 6: Category.MOBILE,
             7: Category.PORTABLE, 8: Category.PORTABLE, n - 5: Category.PORTABLE}  # fmt: skip
    stations = tuple(
        station(
            f"QK{i % 10}{call(i)[3:]}X",
            category=kinds.get(i, Category.BASE),
            name=names[i % len(names)],
            brief=i in (4, 9),
        )
        for i in range(n)
    )
    margin_db = np.full((n, n), -9.0)
    hang = {n - k: 1 for k in range(4, 9)} | {n - 9: 2, n - 10: 2}
    for i in range(1, n - 1):
        j = hang.get(i, 0)
        margin_db[i, j] = margin_db[j, i] = 7.0
    margin_db[3, n - 4] = margin_db[n - 4, 3] = 7.0
    return network_of(margin_db, stations)


def a_sheet(network: SimplexNetwork | None = None, *, script: str | None = None) -> RunSheet:
    network = network or club()
    net = replace(
        network.net, name="Valley Emergency Net", repeaters=(REPEATER,),
        channels=(Channel("S1", 146.55), Channel("S2", 146.58)),
    )  # fmt: skip
    plan = plan_relays(network, control=network.call_signs[0])
    evening = Evening((), plan.relay_calls, (call(3),), (), (call(9),), (), ())
    occasion = replace(OCCASION, stand_in=network.call_signs[3])
    on = replace(network, net=net, channel=net.channels[0])
    return written_sheet(replace(sheet_of_plan(plan, on, occasion, script=script), evening=evening))


def pdf_pages(data: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(data)).pages]


def test_spelling_alphabet() -> None:
    # ITU Radio Regulations, Appendix 14: Alfa and Juliett are spelt so on purpose
    assert (CODE_WORDS["A"], CODE_WORDS["J"], CODE_WORDS["X"]) == ("Alfa", "Juliett", "X-ray")
    assert all(word.startswith(letter) for letter, word in CODE_WORDS.items())
    assert len(CODE_WORDS) == 26
    assert spoken("qk3abc/p") == "Quebec Kilo Three Alfa Bravo Charlie Stroke Papa"


def test_brief_comes_first_then_battery_internet_mobile_base_then_relay_groups() -> None:
    headings = [group.heading for group in a_sheet().groups]
    assert headings[:5] == [kind.heading for kind in CheckIn]
    assert [h.split(" ")[0] for h in headings[5:]] == ["Through", "Through", "No"]
    everyone = [row.call_sign for group in a_sheet().groups for row in group.rows]
    assert sorted(everyone) == sorted(club().call_signs[1:])  # each once, net control not at all


def test_a_relay_group_says_who_relays_for_whom_and_who_steps_in() -> None:
    sheet = a_sheet()
    group = sheet.groups[5]
    relay = club().call_signs[1]
    assert group.words.startswith(f"{relay}, please call ")
    assert all(row.call_sign in group.words for row in group.rows)
    notes = {row.call_sign: row.fallback for row in group.rows}
    assert notes[club().call_signs[20]] == f"ask {club().call_signs[3]}"
    assert "no other" in notes.values()


def with_weak_members() -> SimplexNetwork:
    """As `club`, but 10 and 11 hardly work net control, and relay 1 works 10 very well."""
    network = club()
    margin_db = network.margin_db.copy()
    for i, j, level_db in ((0, 1, 14.0), (0, 10, 0.5), (1, 10, 14.0), (0, 11, 0.5)):
        margin_db[i, j] = margin_db[j, i] = level_db
    return network_of(margin_db, network.net.stations)


def test_a_weak_member_stands_under_the_relay_that_hears_it_better() -> None:
    network = with_weak_members()
    calls = network.call_signs
    sheet = a_sheet(network)
    group = next(g for g in sheet.groups if g.heading.startswith(f"Through {calls[1]}"))
    rows = {row.call_sign: row for row in group.rows}
    assert rows[calls[10]].fallback == "direct 5 in 10"
    assert calls[11] not in rows
    assert group.remark == f"I may hear {calls[10]} directly (5 in 10), rather through {calls[1]} (19 in 20)."
    assert group.remark in " ".join(sheet_text(sheet).split())
    assert "at ______  not heard: direct 5 in 10\n" in sheet_text(sheet)
    assert "direct 5 in 10" in pdf_pages(sheet_pdf(sheet))[0]


def test_a_weak_member_called_directly_has_someone_to_ask() -> None:
    network = with_weak_members()
    calls = network.call_signs
    margin_db = network.margin_db.copy()
    margin_db[1, 11] = margin_db[11, 1] = 0.1  # the relay hardly works it either
    network = network_of(margin_db, network.net.stations)
    rows = {row.call_sign: row for group in a_sheet(network).groups for row in group.rows}
    assert rows[calls[11]].fallback == f"ask {calls[1]}"
    assert rows[calls[12]].fallback == ""


@pytest.mark.parametrize("paper", list(Paper))
def test_a_long_name_is_never_cut_for_what_stands_beside_it(paper: Paper) -> None:
    names = tuple(f"{name} by the Old Mill" for name in NAMES)[:1] + NAMES[1:]
    network = club(24, names)
    text = " ".join(pdf_pages(sheet_pdf(a_sheet(network), paper)))
    assert "…" not in text
    assert "Ridge Farm by the Old Mill" in text


@pytest.mark.parametrize("paper", list(Paper))
def test_a_second_page_has_the_labels_and_the_net_again(paper: Paper) -> None:
    second = pdf_pages(sheet_pdf(a_sheet(club(45)), paper))[1]
    assert second.startswith("Valley Emergency Net, Tue 2026-12-01")
    assert "as spoken" in second
    assert "kind, if not heard" in second


def test_check_in_categories() -> None:
    assert check_in_of(station("QK1A", category=Category.PORTABLE)) is CheckIn.BATTERY
    assert check_in_of(station("QK1A", category=Category.MOBILE, brief=True)) is CheckIn.BRIEF


@pytest.mark.parametrize("paper", list(Paper))
def test_24_stations_fit_one_page(paper: Paper) -> None:
    pages = pdf_pages(sheet_pdf(a_sheet(), paper))
    assert len(pages) == 1
    for wanted in (
        "146.550 MHz",
        "tone 100.0 Hz",
        "19:30 UTC",
        "Priority",
        "I hear",
        "emergency number",
        "n41w039",
    ):
        assert wanted in pages[0].replace("\n", " ")
    for call_sign in club().call_signs:
        assert call_sign in pages[0]


@pytest.mark.parametrize("paper", list(Paper))
def test_a_long_list_flows_on(paper: Paper) -> None:
    network = club(60)
    pages = pdf_pages(sheet_pdf(a_sheet(network), paper))
    assert 2 <= len(pages) <= 3
    text = "".join(pages)
    assert all(call_sign in text for call_sign in network.call_signs)
    assert "page 2 of" in pages[1]


HOSTILE = (
    "<img src=x onerror=alert(1)>",
    "{{ 7*7 }}{% for %}",
    "$\\frac{1}{0}$",
    "a\x1b[31mb",
    "Ünïcode Ω 北",
    "",
)


def test_names_are_shown_as_they_are() -> None:
    sheet = a_sheet(club(24, HOSTILE))
    page = sheet_page(sheet)
    assert "<img" not in page
    assert "&lt;img src=x onerror=alert(1)&gt;" in page
    assert "{{ 7*7 }}{% for %}" in page
    text = sheet_text(sheet)
    assert "\x1b" not in text
    assert "$\\frac{1}{0}$" in text
    (pdf,) = pdf_pages(sheet_pdf(sheet))
    assert "49" not in pdf.replace("1490", "")
    # older matplotlib draws what is beyond Latin-1 as shapes, not as text that could be read back
    assert "Ünïcode" in pdf and "stands for a letter" in pdf  # no typeface at hand has the last letter
    assert "北" in page


def test_text_for_a_terminal() -> None:
    text = sheet_text(a_sheet())
    assert max(len(line) for line in text.splitlines()) <= 100
    assert text.count("[ ] ") == 23
    assert "-- Through" in text
    assert "Opening: Hello to all stations. This is Quebec Kilo Zero" in " ".join(text.split())


def own(part: str, words: str) -> str:
    parts = {name: "" for name in ("opening", "priority", "check_in", "relay", "closing")} | {part: words}
    return "".join(f"[{name}]\n{text}\n\n" for name, text in parts.items())


def test_own_wording() -> None:
    sheet = a_sheet(script=own("opening", "# not said\nThis is {{ control }} on\n{{ frequency }}."))
    assert sheet.opening == f"This is {club().call_signs[0]} on 146.550 MHz (S1)."
    assert sheet.closing == ""
    assert "<b>Closing" not in sheet_page(sheet)
    assert a_sheet(script=default_script()) == a_sheet()


@pytest.mark.parametrize(
    ("script", "message"),
    [
        (own("closing", "fine\n{{ contrl }}"), r"script.txt, row 14: \[closing\]: 'contrl' is undefined"),
        (own("opening", "{% if %}"), r"script.txt, row 2: \[opening\]: Expected an expression"),
        (own("opening", "{{ ''.__class__.__mro__ }}"), "a dot is not understood"),
        (own("opening", "{{ 1/0 }}"), "arithmetic is not understood"),
        ("[opening]\n[openin]\n", r"row 2: \[openin\] is not a part of the sheet"),
        ("[opening]\n[opening]\n", r"row 2: \[opening\] stands here a second time"),
        ("hello\n[opening]", "text before the first heading"),
        ("[opening]\nhello", r"has no part \[priority\], \[check_in\]"),
    ],
)  # fmt: skip
def test_a_script_that_does_not_work_is_told_where(script: str, message: str) -> None:
    with pytest.raises(InputProblem, match=message):
        a_sheet(script=script)


def test_own_wording_cannot_run_code_nor_touch_files() -> None:
    for attempt in (
        "{{ cycler.__init__.__globals__.os.getcwd() }}",
        "{% include '/etc/passwd' %}",
        "{{ range(10**9)|list }}",
    ):
        with pytest.raises(InputProblem):
            a_sheet(script=own("opening", attempt))


def test_members_of_a_small_net() -> None:
    members: tuple[Station, ...] = (station("QK1A"), station("QK2B"))
    margin_db = np.full((2, 2), 5.0)
    network = network_of(margin_db, members)
    plan = plan_relays(network, control="QK1A")
    sheet = written_sheet(sheet_of_plan(plan, network, Occasion(made_from="Planned today.")))
    assert [group.heading for group in sheet.groups] == [CheckIn.BASE.heading]
    assert ("Date", "____________________") in sheet.facts
    assert len(pdf_pages(sheet_pdf(sheet))) == 1


@pytest.mark.parametrize("name", ["東の丘", "תל הגבעה", "नमस्ते"])
def test_a_script_without_a_typeface_is_said_and_never_left_to_boxes(name: str) -> None:
    pdf = " ".join(" ".join(pdf_pages(sheet_pdf(a_sheet(club(4, (name,)))))).split())
    assert "stands for a letter this PDF has no typeface for" in pdf


def test_a_page_says_of_letters_it_does_not_carry_that_they_are_the_devices() -> None:
    assert "letters that this page does not carry" in sheet_page(a_sheet(club(4, ("東の丘",))))


def test_scripts_with_a_typeface_need_no_word() -> None:
    sheet = a_sheet(club(4, ("Большая Гора", "Ünïcode Ω")))
    assert "no typeface" not in " ".join(pdf_pages(sheet_pdf(sheet)))
    assert "does not carry" not in sheet_page(sheet)


def test_a_page_carries_its_typefaces_their_notice_and_only_the_letters_it_shows() -> None:
    latin, cyrillic = (sheet_page(a_sheet(club(4, (name,)))) for name in ("Hill", "Гора"))
    assert latin.count("@font-face") == 3 and "SIL Open Font License" in latin
    assert len(cyrillic) > len(latin)
    assert len(latin) < 80_000


def test_the_same_sheet_gives_the_same_bytes() -> None:
    names = ("Hill", "Гора", "東の丘")
    for draw in (sheet_page, sheet_pdf, sheet_text):
        assert draw(a_sheet(club(24, names))) == draw(a_sheet(club(24, names)))
