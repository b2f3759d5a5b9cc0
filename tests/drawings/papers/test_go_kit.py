"""Go-kit sheets: what an operator must find, on one page of A4 and Letter, whatever names hold."""

from __future__ import annotations

import html
import io
import re
from dataclasses import replace

import numpy as np
import pytest
from pypdf import PdfReader

from reach.answers.outages import planned_cases
from reach.drawings.papers.go_kit import (
    AS_USUAL,
    KIT_CAUTIONS,
    LEADS,
    MOST_HEARD,
    NOBODY,
    OFF_AIR,
    KitPage,
    kit_page,
)
from reach.drawings.papers.go_kit_page import kit_pages_html
from reach.drawings.papers.go_kit_pdf import kit_pages_pdf
from reach.drawings.papers.go_kit_text import case_words, kit_text
from reach.drawings.papers.paper import Paper
from reach.inputs.planning import BatteryRules
from reach.plans.outages.failures import NetSurvey
from reach.plans.relays.rules import RelayRules
from reach.stations import BackupPower, Category, Channel
from tests.plans.invented_survey import survey_of
from tests.plans.synthetic import call, linked, network_of, station

HOSTILE = "<img src=x onerror=alert(1)>{{7*7}}</script>`${1}`\u202e\x1b[31m"
RULES, BATTERY = RelayRules(), BatteryRules()


def a_survey(names: str = "") -> NetSurvey:
    """0 controls and works 1, 2 on simplex; 1 relays for 3; QK0RA (mains only) works 0, 1 and 2.

    2 and 3 have no battery; 4 is linked over the internet; 5 works nobody.
    """
    backups = {0: BackupPower(battery_ah=40.0), 1: BackupPower(hours=6.0), 5: BackupPower()}
    stations = tuple(
        station(
            call(k), control=k == 0, relay=k == 1, backup=backups.get(k), name=names,
            category=Category.INTERNET if k == 4 else Category.BASE,
        )
        for k in range(6)
    )  # fmt: skip
    simplex = linked(6, [(0, 1), (0, 2), (1, 3)], stations)
    net = replace(simplex.net, channels=(Channel("S1", 146.55), Channel("S2", 446.0125)))
    simplex = replace(simplex, net=net, distance_m=np.arange(36.0).reshape(6, 6) * 100.0)
    return survey_of(simplex, {"QK0RA": [call(0), call(1), call(2)]})


def page_of(k: int, survey: NetSurvey | None = None) -> KitPage:
    survey = survey or a_survey()
    plans = planned_cases(survey, RULES, BATTERY)
    return kit_page(survey, plans, call(k), battery=BATTERY, made_from="Planned 2026-11-25.")


def cases_of(k: int) -> dict[str, str]:
    return {case.situation: case_words(case) for case in page_of(k).cases}


def test_a_member_is_told_whom_to_call_in_each_case() -> None:
    assert cases_of(2) == {
        "usually": f"usually: on QK0RA call {call(0)} (net control); you are the stand-in: when {call(0)} is "
        "silent, take the net",
        "no repeater": f"no repeater: on 146.550 simplex call {call(0)} (net control)",
        "no mains": f"no mains: off the air; you have no backup power; nearest on the air: {call(0)}, 1.2 km",
    }
    assert cases_of(3)["usually"] == f"usually: on 146.550 simplex call {call(1)} (relay)"


def test_net_control_and_relay_are_told_their_part() -> None:
    assert page_of(0).cases[1].whom == LEADS
    assert page_of(0).headline.startswith("You are net control on QK0RA")
    assert page_of(1).cases[1].note == (
        f"you relay for {call(3)} on 146.550 simplex; "
        f"you are the stand-in: when {call(0)} is silent, take the net"
    )
    # on the repeater the same relay has two channels to listen to
    assert "listen on QK0RA and 146.550 simplex all through the net" in page_of(1).cases[0].note
    assert (
        page_of(0)
        .cases[0]
        .note.startswith(f"{call(1)} relays for {call(3)}; stand-in {call(2)} (if it agrees)")
    )


def test_a_case_like_the_usual_one_says_so() -> None:
    survey = survey_of(a_survey().simplex, {"QK0RA": [call(0), call(1), call(2)], "QK0RB": [call(0)]})
    by_case = {case.situation: case.where for case in page_of(2, survey).cases}
    assert by_case["QK0RB down"] == AS_USUAL
    assert by_case["no repeater"] == "146.550 simplex"


def test_a_member_out_of_reach_is_told_so_and_how_near() -> None:
    page = page_of(5)
    assert all(case.whom == NOBODY for case in page.cases)
    assert "misses" in page.cases[0].note
    listen = "isten on {}, no way in is predicted"
    usual, other = listen.format("QK0RA"), listen.format("146.550 simplex")
    assert page.headline == f"L{usual}; with no repeater l{other}."


def test_the_internet_member_has_no_radio_part() -> None:
    page = page_of(4)
    assert not page.on_radio and page.cases[0].where == "internet"
    assert "gone with the mains" in page.cases[-1].note
    assert "simplex you work" not in kit_text(page)


def test_frequencies_come_in_the_order_of_what_works_for_the_member() -> None:
    repeater = ("QK0RA Hill", "146.940", "146.340", "none")
    first, second = (
        ("simplex, S1", "146.550", "146.550", "none"),
        ("simplex, S2", "446.0125", "446.0125", "none"),
    )

    def lines(k: int) -> list[tuple[str, str, str, str]]:
        page = page_of(k)
        assert [c.order for c in page.channels] == [1, 2, 3]
        return [(c.name, c.listen_mhz, c.send_mhz, c.tone) for c in page.channels]

    assert lines(0) == lines(1) == lines(2) == [repeater, first, second]
    assert lines(3) == [first, second, repeater]  # no way into the repeater
    assert lines(5) == [repeater, first, second]  # nothing works
    assert page_of(0).channels[0].use.startswith("you get in, ")
    assert page_of(3).channels[2].use == "no way in from you"


def test_whom_one_works_best_first_and_one_way_links_apart() -> None:
    margin_db = np.full((4, 4), -9.0)
    margin_db[0, 1] = margin_db[1, 0] = 2.0
    margin_db[0, 2] = margin_db[2, 0] = 9.0
    margin_db[0, 3] = 4.0
    survey = survey_of(network_of(margin_db, tuple(station(call(k)) for k in range(4))), {})
    page = page_of(0, survey)
    assert [(h.call_sign, h.grade) for h in page.works] == [(call(2), "R5"), (call(1), "R3")]
    assert page.heard_only_by == (call(3),) and page.hears_only == ()
    assert page_of(3, survey).hears_only == (call(0),)


def test_battery_words_for_each_kind() -> None:
    assert page_of(0).battery.startswith("Your battery lasts about ")
    assert page_of(1).battery == "Your backup power lasts 6.0 h as you said."
    assert page_of(2).battery == "No backup power is noted for you."
    assert "time it" in page_of(5).battery
    assert page_of(2).cases[-1].where == OFF_AIR


@pytest.mark.parametrize("form", ["text", "html", "pdf"])
def test_every_sheet_carries_the_cautions_and_room_for_the_emergency_number(form: str) -> None:
    page = page_of(1)
    if form == "text":
        said = kit_text(page)
    elif form == "html":
        said = html.unescape(re.sub(r"<[^>]+>", " ", kit_pages_html([page])))
    else:
        said = PdfReader(io.BytesIO(kit_pages_pdf([page]))).pages[0].extract_text()
    said = " ".join(said.split())
    for caution in KIT_CAUTIONS:
        assert caution in said
    assert re.search("emergency number", said, flags=re.IGNORECASE)
    words = said.lower()
    for needed in ("licence", "agency", "power lines", "test every link on the air"):
        assert needed in words


def test_hostile_names_are_only_letters_in_every_form() -> None:
    page = page_of(1, a_survey(HOSTILE))
    text = kit_text(page)
    assert "\x1b" not in text and "\u202e" not in text and "<img src=x" in text
    markup = kit_pages_html([page])
    assert "<img" not in markup and "</script" not in markup and "<script" not in markup
    assert "{{7*7}}" in html.unescape(markup) and "default-src 'none'" in markup
    assert kit_pages_pdf([page]).startswith(b"%PDF")


@pytest.mark.parametrize("paper", list(Paper))
def test_one_page_an_operator_in_type_of_eleven_points_or_more(paper: Paper) -> None:
    survey = a_survey("Long Meadow Kiln Yard Harbour Office")
    sheets = [page_of(k, survey) for k in range(6)]
    reader = PdfReader(io.BytesIO(kit_pages_pdf(sheets, paper)))
    assert len(reader.pages) == 6
    sizes: set[float] = set()
    for sheet, page in zip(sheets, reader.pages, strict=True):
        assert abs(float(page.mediabox.height) - paper.value[1] / 25.4 * 72.0) < 1.0
        read = page.extract_text(
            visitor_text=lambda text, cm, tm, font, size: sizes.add(round(size, 1)) if text.strip() else None
        )
        assert sheet.call_sign in read
    assert min(sizes) >= 11.0


@pytest.fixture(scope="module")
def many_sheets() -> list[KitPage]:
    """60 members who work, hear and miss each other, four repeaters, six channels; three sheets."""
    n = 60
    rng = np.random.default_rng(1)
    both_ways = rng.normal(1.0, 6.0, (n, n))
    margin_db = both_ways + both_ways.T + rng.normal(0.0, 4.0, (n, n))
    stations = tuple(
        station(call(k), name="Long Meadow Kiln Yard", backup=BackupPower() if k % 3 == 0 else None)
        for k in range(n)
    )
    simplex = network_of(margin_db, stations)
    channels = tuple(Channel(f"Simplex number {k}", 146.4 + k / 50.0) for k in range(6))
    net = replace(simplex.net, channels=channels, name="A very long name of a net " * 3)
    letters = "ABCD"
    served = {f"QK0R{letter}": [call(int(k)) for k in rng.choice(n, 20, replace=False)] for letter in letters}
    survey = survey_of(replace(simplex, net=net), served, backed=["QK0RA"])
    rules = RelayRules(chain_limit=1, time_limit_s=0.2)
    plans = planned_cases(survey, rules, BATTERY)
    return [kit_page(survey, plans, call(k), battery=BATTERY, made_from="Planned.") for k in range(0, n, 20)]


@pytest.mark.parametrize("paper", list(Paper))
def test_a_large_net_still_fits_one_page_each(many_sheets: list[KitPage], paper: Paper) -> None:
    sheets = many_sheets
    assert any(sheet.more for sheet in sheets) and all(len(s.works) <= MOST_HEARD for s in sheets)
    reader = PdfReader(io.BytesIO(kit_pages_pdf(sheets, paper)))
    assert len(reader.pages) == len(sheets)
    for page in reader.pages:
        places: list[tuple[float, str]] = []

        def at(text: str, cm: list[float], tm: list[float], font: object, size: float) -> None:
            if text.strip():
                places.append((tm[5] * cm[3] + cm[5], text.strip()))  # noqa: B023  # called at once

        page.extract_text(visitor_text=at)
        foot = next(k for k in reversed(range(len(places))) if places[k][1].startswith("When"))
        assert min(y for y, _ in places) > 15.0  # nothing runs off the paper
        assert min(y for y, _ in places[:foot]) > places[foot][0] + 10.0  # nor into the cautions


def test_the_same_sheets_give_the_same_bytes() -> None:
    sheets = [page_of(k) for k in range(3)]
    assert kit_pages_pdf(sheets) == kit_pages_pdf(sheets)
    assert kit_pages_html(sheets) == kit_pages_html(sheets)


def test_no_sheet_at_all_is_refused() -> None:
    for draw in (kit_pages_html, kit_pages_pdf):
        with pytest.raises(ValueError, match="no sheet"):
            draw([])
