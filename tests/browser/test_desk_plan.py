"""The page "Plan" in a real browser: a station moved and changed, a variant kept, the roster written."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from reach.demo.folder import make_demo_folder
from tests.answers.small_net import made_in
from tests.browser.test_desk import Evening, violations
from tests.desk.running import RunningDesk, running

pytest.importorskip("playwright.sync_api")


@pytest.fixture
def small(tmp_path: Path) -> Iterator[RunningDesk]:
    with running(made_in(tmp_path)) as desk:
        yield desk


class Plan(Evening):
    """The second page of the same desk."""

    def __init__(self, browser, desk: RunningDesk, **size: int) -> None:
        super().__init__(browser, desk, **size)
        self.page.goto(self.page.url + "plan")
        self.until(lambda: self.page.inner_text("#said") == "Today's net", "planned")

    def says(self, words: str) -> None:
        self.until(lambda: words in self.page.inner_text("#said"), words)

    def row(self, what: str) -> list[str]:
        return self.page.locator("#rows tr", has_text=what).locator("td").all_inner_texts()


def test_a_change_is_tried_kept_taken_back_and_written(browser, small: RunningDesk) -> None:
    roster = small.folder / "roster.csv"
    before = roster.read_bytes()
    plan = Plan(browser, small)
    page = plan.page
    assert plan.row("Net control")[1] == "QK1B"
    page.select_option("#station", "QK1F")  # by keyboard below; this only chooses
    page.fill("#f-power", "50 W")
    page.fill("#f-height", "12 m")
    page.locator("#f-height").press("Enter")
    plan.says("Planned with 2 changes")
    assert page.locator("#changes li").count() == 2
    was, is_ = plan.row("Pairs that work")[1:]
    assert int(is_) > int(was)
    page.locator("#f-on").uncheck()
    page.locator("#f-height").press("Enter")
    plan.says("Planned with 3 changes")
    plan.until(lambda: page.locator(".call-label", has_text="QK1F").count() == 0, "off the map")
    page.locator("#changes button", has_text="take back").last.click()
    plan.says("Planned with 2 changes")
    assert violations(page) == []

    page.click("#keep")
    page.keyboard.type("stronger Fay")
    page.keyboard.press("Enter")
    plan.until(lambda: page.inner_text("#name-head") == "stronger Fay", "kept")
    page.click("#clear")
    plan.says("Today's net")
    page.select_option("#variants", "stronger Fay")
    plan.says("Planned with 2 changes")

    page.click("#save")
    plan.until(lambda: "power W: 0.1 becomes 50 W" in page.inner_text("#ask-words"), "the difference shows")
    assert roster.read_bytes() == before
    page.keyboard.press("Escape")
    assert roster.read_bytes() == before
    page.click("#save")
    plan.until(lambda: page.locator("#ask").is_visible(), "asked again")
    roster.write_bytes(before + b"\n")  # somebody saves it meanwhile
    page.click("#ask-yes")
    plan.until(lambda: "somebody else" in page.inner_text("#trouble"), "refused")
    assert roster.read_bytes() == before + b"\n"
    page.click("#save")
    plan.until(lambda: page.locator("#ask").is_visible(), "the difference anew")
    page.click("#ask-yes")
    plan.says("Written")
    assert b"QK1F,Fay,base,41.27,-37.78,12 m,50 W,yes,no," in roster.read_bytes()
    assert [kept.read_bytes() for kept in small.folder.glob("roster.csv.before-*")] == [before + b"\n"]
    plan.troubles = [one for one in plan.troubles if "400" not in one]  # the refusal
    plan.close()


def test_a_station_is_dragged_and_places_and_lines_are_looked_at(browser, small: RunningDesk) -> None:
    plan = Plan(browser, small)
    page = plan.page
    marker = page.locator(".leaflet-marker-icon[title*='QK1B']")
    box = marker.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.mouse.move(box["x"] + 60, box["y"] + 40, steps=4)
    page.mouse.up()
    plan.says("Planned with 1 change")
    assert page.inner_text("#changes li").startswith("QK1B place 41.")
    frame = page.locator("#map").bounding_box()
    assert frame is not None
    page.mouse.click(frame["x"] + 0.6 * frame["width"], frame["y"] + 0.9 * frame["height"])
    plan.until(lambda: "A handheld works about" in page.inner_text("#look"), "who is worked from there")
    page.click("#profile-key")
    page.select_option("#ask-left", "QK1A")
    page.select_option("#ask-right", "QK1B")
    page.click("#ask-yes")
    plan.until(lambda: page.locator("#look img").count() == 1, "a profile")
    plan.until(lambda: page.evaluate("document.querySelector('#look img').naturalWidth > 100"), "it is drawn")
    page.fill("#f-height", "very high")
    page.locator("#f-height").press("Enter")
    plan.until(lambda: "very high" in page.inner_text("#trouble"), "said what is wrong")
    plan.troubles = [one for one in plan.troubles if "400" not in one]
    plan.close()


@pytest.mark.parametrize(("width", "height"), [(1180, 820), (390, 844)])
def test_nothing_runs_off_the_side(browser, small: RunningDesk, width: int, height: int) -> None:
    plan = Plan(browser, small, width=width, height=height)
    assert plan.page.evaluate("document.documentElement.scrollWidth") <= width
    time.sleep(0.1)
    plan.close()


def test_names_lie_over_no_other_and_the_plans_own_are_there(browser, tmp_path: Path) -> None:
    make_demo_folder(tmp_path)
    with running(tmp_path) as desk:
        plan = Plan(browser, desk)
        boxes = plan.page.evaluate(
            """() => [...document.querySelectorAll(".call-label")]
            .filter(n => n.style.visibility !== "hidden").map(n => {
                const b = n.getBoundingClientRect();
                return [n.innerText, b.left, b.top, b.right, b.bottom];
            })"""
        )
        relays = plan.row("Relays")[1].split(", ")
        plan.close()
    assert 12 < len(boxes) <= 26 and {plan_call for plan_call, *_ in boxes} >= {*relays, "QK3ALD"}
    for number, (one, left, top, right, bottom) in enumerate(boxes):
        for other, left2, top2, right2, bottom2 in boxes[number + 1 :]:
            assert left >= right2 or left2 >= right or top >= bottom2 or top2 >= bottom, (one, other)
