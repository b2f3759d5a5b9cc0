"""The net desk in a real browser: an evening by keyboard alone with a crash in the middle, a hostile page
beside it, what a screen reader is told.
"""

from __future__ import annotations

import http.server
import json
import signal
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from reach.demo.folder import make_demo_folder
from reach.reports.store import standing, stored_reports
from tests.answers.small_net import made_in
from tests.desk.running import RunningDesk, client, running

pytest.importorskip("playwright.sync_api")


@pytest.fixture
def small(tmp_path: Path) -> Iterator[RunningDesk]:
    with running(made_in(tmp_path)) as desk:
        yield desk


class Evening:
    """A page of the desk worked with keys only; every request and word on the console is watched."""

    def __init__(self, browser, desk: RunningDesk, *, width: int = 1400, height: int = 950) -> None:
        self.desk = desk
        self.context = browser.new_context(viewport={"width": width, "height": height})
        self.page = self.context.new_page()
        self.troubles: list[str] = []
        self.page.on("request", self._watch)
        self.page.on("pageerror", lambda error: self.troubles.append(f"error: {error}"))
        self.page.on("console", lambda message: self.troubles.append(f"console: {message.text}"))
        self.page.goto(desk.address)
        self.page.wait_for_url("**/*/")
        self.page.locator("#begin, #desk").locator("visible=true").first.wait_for()

    def _watch(self, request) -> None:
        ours = request.url.startswith((self.desk.origin, "data:", "blob:"))
        if not ours or request.method not in ("GET", "POST"):
            self.troubles.append(f"request: {request.method} {request.url}")

    def keys(self, *names: str) -> None:
        for name in names:
            self.page.keyboard.press(name)

    def line(self, text: str) -> None:
        """Type a line into the entry line and press Enter."""
        assert self.focus == "call", self.focus
        self.page.keyboard.type(text)
        self.keys("Enter")

    @property
    def focus(self) -> str:
        return self.page.evaluate("document.activeElement.id || document.activeElement.tagName")

    def listed(self) -> list[str]:
        return self.page.locator("#groups td.call").all_inner_texts()

    def until(self, true, what: str, seconds: float = 60.0) -> None:
        """Long enough for a machine that has nothing compiled yet."""
        end = time.monotonic() + seconds
        while not true():
            assert time.monotonic() < end, what
            time.sleep(0.02)

    def press_until(self, key: str, what: str, value: str) -> None:
        for _ in range(60):
            if self.page.evaluate(what) == value:
                return
            self.keys(key)
        raise AssertionError(f"{key} does not lead to {value}")

    def begin(self, control: str) -> None:
        """Where is chosen already; Tab to net control, Enter."""
        self.until(lambda: self.focus == "begin-on", "the form has the focus")
        self.keys("Tab")
        self.keys("Control+A")
        self.page.keyboard.type(control)
        self.keys("Enter")
        self.until(lambda: self.focus == "call", "the entry line has the focus")

    def close(self) -> None:
        self.context.close()
        assert not self.troubles


def violations(page) -> list[str]:
    """What an accessibility engine finds (axe-core, in the wheel of axe-playwright-python)."""
    engine = pytest.importorskip("axe_playwright_python.sync_playwright")
    found = engine.Axe().run(page)
    return [f"{one['id']}: {one['nodes'][0]['html'][:120]}" for one in found.response["violations"]]


def test_an_evening_of_26_by_keyboard_with_a_crash_in_the_middle(browser, tmp_path: Path) -> None:
    folder = tmp_path
    make_demo_folder(folder)
    with running(folder) as desk:
        evening = Evening(browser, desk)
        evening.begin("QK3ALD")
        model: dict[str, dict] = {}

        def enters(text: str, call: str, **facts: object) -> None:
            evening.line(text)
            model[call] = {"heard": None, "given": None, "through": "", **facts}
            evening.until(lambda: call in evening.listed(), f"{call} is on the list")

        for text, call, heard, given in (
            ("ash 54", "QK3ASH", 5, 4), ("bch 5 5", "QK3BCH", 5, 5), ("cdr", "QK3CDR", None, None),
            ("dog 4", "QK3DOG", 4, None), ("elm 55", "QK3ELM", 5, 5), ("fir 43", "QK3FIR", 4, 3),
            ("grs 5", "QK3GRS", 5, None), ("hzl 33", "QK3HZL", 3, 3), ("hol 4", "QK3HOL", 4, None),
        ):  # fmt: skip
            enters(text, call, heard=heard, given=given)
        enters("ivy", "QK3IVY")
        enters("qk9zzz 5 t .lives on a boat", "QK9ZZZ", heard=5)  # nobody knows it
        evening.line("jn?")
        evening.until(lambda: "JN" in evening.page.inner_text("#fragments"), "the fragment shows")
        enters("jun 5", "QK3JUN", heard=5)
        evening.line("lrc 2")
        evening.until(lambda: "QK3LRC" in evening.listed(), "in by mistake")
        evening.keys("F9")  # taken back
        evening.until(lambda: "QK3LRC" not in evening.listed(), "out again")
        enters("nut 4", "QK3NUT", heard=4)

        desk.process.send_signal(signal.SIGKILL)
        desk.process.wait()
        evening.line("pin 5")  # typed while the desk is down: kept on the page, not shown as noted
        evening.until(lambda: evening.page.locator("#unsaved").is_visible(), "said to be not on disk")
        assert "QK3PIN" in evening.page.inner_text("#unsaved") and "QK3PIN" not in evening.listed()
        assert any("ERR_CONNECTION_REFUSED" in trouble for trouble in evening.troubles)
        with running(folder) as again:
            model["QK3PIN"] = {"heard": 5, "given": None, "through": ""}
            evening.until(lambda: "QK3PIN" in evening.listed(), "noted once the desk is back")
            evening.until(lambda: not evening.page.locator("#unsaved").is_visible(), "nothing waits")
            evening.troubles = [t for t in evening.troubles if "ERR_" not in t]
            for text, call, heard in (
                ("rwn m 5", "QK3RWN", 5), ("spr 3", "QK3SPR", 3), ("slo 2", "QK3SLO", 2),
                ("wlw p 4", "QK3WLW", 4), ("yew 3", "QK3YEW", 3), ("brm 4", "QK3BRM", 4),
                ("frn 5", "QK3FRN", 5), ("sdg", "QK3SDG", None),
            ):  # fmt: skip
                enters(text, call, heard=heard)

            # a relay: ask, not heard, ask the next one offered, heard by it
            def row(call: str) -> str:
                return evening.page.locator(f'#missing tr[data-key="{call}"]').inner_text()

            evening.until(lambda: evening.page.locator("#missing tr").count() == 4, "four to come")
            evening.until(lambda: "ask" in row("QK3OAK"), "a relay is offered for QK3OAK")
            evening.keys("F4")
            evening.press_until("ArrowDown", "document.activeElement.dataset.key", "QK3OAK")
            first = row("QK3OAK").split("ask ")[1][:6]
            evening.keys("a")
            evening.until(lambda: f"asked {first}" in row("QK3OAK"), "asked")
            evening.keys("n")
            evening.until(lambda: f"not heard by {first}" in row("QK3OAK"), "not heard")
            evening.until(lambda: f"ask {first}" not in row("QK3OAK"), "it is not offered again")
            evening.keys("Escape")
            enters("oak 3 v cdr", "QK3OAK", through="QK3CDR")
            enters("mpl 4", "QK3MPL", heard=4)
            enters("thn 3", "QK3THN", heard=3)

            # keys on the list: the newest row has them
            evening.keys("Escape")
            evening.until(lambda: evening.page.evaluate("document.activeElement.tagName") == "TR", "a row")
            evening.keys("g", "2", "c")
            model["QK3THN"]["given"] = 2
            evening.until(lambda: "call back" in evening.page.inner_text("#groups"), "waits")
            evening.keys("Escape")
            evening.keys("PageDown", "PageDown")
            evening.until(lambda: evening.page.inner_text("#step-head").startswith("Brief"), "third step")

            state = client_state(again)
            kept = {
                entry["call"]: {name: entry[name] for name in ("heard", "given", "through")}
                for group in state["groups"]
                for entry in group["entries"]
            }
            assert kept == model and len(kept) == 25
            assert sorted(evening.listed()) == sorted(model)
            assert state["counts"] in evening.page.inner_text("#counts")

            evening.press_until("Tab", "document.activeElement.id", "close")
            evening.keys("Enter")
            evening.until(lambda: evening.focus == "ask-yes", "asked before closing")
            assert "QK3THN waits for call back" in evening.page.inner_text("#ask-words")
            evening.keys("Enter")
            evening.until(lambda: "closed at" in evening.page.inner_text("#where"), "closed")
            evening.close()
            assert again.end() == 0
    reports = [one.report for one in standing(stored_reports(folder))]
    direct = {
        report.sender: report.readability
        for report in reports
        if report.listener == "QK3ALD" and report.outcome.value == "yes" and not report.via
    }
    internet = {"QK3IVY", "QK3SDG"}
    assert direct == {
        call: facts["heard"] for call, facts in model.items() if not facts["through"] and call not in internet
    }
    assert {r.sender for r in reports if r.outcome.value == "no"} == {"QK3OAK"}


def client_state(desk: RunningDesk) -> dict:
    desk.address = desk.new_address()
    return client(desk).state


def test_nothing_an_accessibility_engine_finds(browser, small: RunningDesk) -> None:
    evening = Evening(browser, small)
    page = evening.page
    assert violations(page) == []
    evening.begin("QK1A")
    evening.line("1b 54 t")
    evening.line("qk9zzz !")
    evening.line("3g?")
    evening.until(lambda: len(evening.listed()) == 2, "two are in")
    evening.until(lambda: "Working" not in page.inner_text("#plan-words"), "planned")
    assert violations(page) == []
    page.keyboard.type("qk1")
    assert page.locator("#likely li").count() == 5
    assert page.get_attribute("#call", "aria-activedescendant") == "likely-0"
    assert violations(page) == []
    evening.keys("ArrowUp")
    assert page.get_attribute("#call", "aria-activedescendant") == "likely-4"
    evening.keys("Escape")
    assert page.get_attribute("#call", "aria-activedescendant") is None
    assert page.get_attribute("#call", "aria-expanded") == "false"
    evening.keys("Escape", "Escape")  # emptied, then to the list
    assert page.evaluate("document.activeElement.tagName") == "TR"
    assert "QK9ZZZ" in page.evaluate("document.activeElement.getAttribute('aria-label')")
    evening.keys("r")
    evening.until(lambda: evening.focus == "ask-remark", "a dialog has the focus")
    assert violations(page) == []
    evening.keys("Escape")
    assert page.evaluate("document.activeElement.tagName") == "TR"  # back where it was
    page.locator("#dark").focus()
    evening.keys("Enter")
    evening.until(lambda: "dark" in page.evaluate("document.documentElement.className"), "dark")
    assert violations(page) == []
    evening.close()


def test_the_focus_goes_round_in_the_order_of_the_page(browser, small: RunningDesk) -> None:
    evening = Evening(browser, small)
    evening.begin("QK1A")
    evening.line("1b")
    evening.until(lambda: evening.page.locator("#missing tr").count() == 3, "three to come")
    order = []
    for _ in range(20):
        evening.keys("Tab")
        order.append(evening.focus)
        if order[-1] == "help":
            break
    assert order[:4] == ["TR", "back", "next", "TR"]  # the list, words, still to come
    assert order[4:6] == ["undo", "hand"]
    evening.close()


@pytest.mark.parametrize(("width", "height"), [(1400, 950), (1180, 820), (844, 390), (390, 844), (320, 640)])
def test_nothing_runs_off_the_side(browser, small: RunningDesk, width: int, height: int) -> None:
    evening = Evening(browser, small, width=width, height=height)
    evening.begin("QK1A")
    evening.line("1b 54 t .a rather long remark about an antenna that came down in the storm last night")
    evening.until(lambda: len(evening.listed()) == 1, "in")
    page = evening.page
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    top = page.locator("#call").bounding_box()
    assert top is not None and top["y"] + top["height"] <= height
    small_targets = page.evaluate(
        "[...document.querySelectorAll('button, nav a, .keys a, #call')].filter((e) => e.offsetParent)"
        ".filter((e) => e.getBoundingClientRect().height < 43.9).map((e) => e.id || e.textContent)"
    )
    assert small_targets == []
    if width > 320:  # either narrow or large (WCAG 1.4.4 and 1.4.10), not both at once
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    evening.close()


def test_two_windows_of_one_net(browser, small: RunningDesk) -> None:
    """One hears what the other notes; what both say of one station is shown and asked, not merged."""
    one = Evening(browser, small)
    one.begin("QK1A")
    other = one.context.new_page()
    other.goto(one.page.url)
    other.locator("#call").wait_for()
    one.line("1b 5")
    one.until(lambda: other.locator("#groups td.call").all_inner_texts() == ["QK1B"], "the other hears of it")
    other.route("**/state", lambda route: None)  # asleep: it learns nothing more
    one.line("1b 2")
    one.until(lambda: "R2" in one.page.inner_text("#groups"), "changed")
    other.bring_to_front()
    other.locator("#call").focus()
    other.keyboard.type("1b 4")
    other.keyboard.press("Enter")
    other.unroute("**/state")
    one.until(lambda: other.locator("#ask").is_visible(), "both are shown")
    assert "QK1B checked in" in other.inner_text("#ask-words")
    assert "R2" in one.page.inner_text("#groups")
    other.keyboard.press("Enter")  # note mine too
    one.until(lambda: "R4" in one.page.inner_text("#groups"), "the second word counts")
    other.close()
    one.context.close()


def test_hostile_words_stay_words(browser, small: RunningDesk) -> None:
    evening = Evening(browser, small)
    evening.begin("QK1A")
    evening.line("1b .<img src=x onerror=alert(1)> <b>bold</b>")
    evening.until(lambda: "<b>bold</b>" in evening.page.inner_text("#groups"), "as typed")
    assert evening.page.locator("#groups img, #groups b").count() == 0
    evening.close()


ATTACKS = Path(__file__).with_name("hostile_page.js").read_text().split("\n", 1)[1]


@pytest.mark.parametrize("name", ["127.0.0.1", "localhost"])
def test_a_hostile_page_in_the_same_browser_neither_reads_nor_writes(
    browser, small: RunningDesk, name: str
) -> None:
    """The other origin is another port of this machine: same site, and so the hardest to keep out."""
    evening = Evening(browser, small)
    evening.begin("QK1A")
    before = client_state(small)["seq"]
    page = http.server.SimpleHTTPRequestHandler
    asked: list[str] = []

    class Hostile(page):
        def do_GET(self) -> None:
            asked.append(self.headers.get("Cookie", ""))
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write(b"<!doctype html><title>hostile</title><link rel=icon href=data:,><body>")

        def log_message(self, *_: object) -> None:
            """Quiet."""

    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Hostile) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        hostile = evening.context.new_page()  # the very browser that holds our cookie
        hostile.goto(f"http://{name}:{server.server_port}/")
        home = evening.page.url
        got = hostile.evaluate(ATTACKS, home)
        hostile.goto(f"http://{name}:{server.server_port}{home.split(small.host)[1]}")
        server.shutdown()
    assert len(got) == 12
    for attack, answer in got:
        said = json.dumps(answer)
        assert "Small net" not in said and "QK1" not in said, (attack, answer)
        assert answer not in ("opened", "loaded") or attack == "frame", (attack, answer)
    assert client_state(small)["seq"] == before
    hostile.goto(home, referer=f"http://{name}:{server.server_port}/", wait_until="commit")
    evening.context.close()
    if name == "localhost":  # cookies know no ports, but they know names and paths
        assert not any("desk=" in one for one in asked)
