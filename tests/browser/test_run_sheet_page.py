"""The run sheet's page printed by a browser: one sheet of A4 or Letter, nothing asked of any network.

Everything here runs under several sets of fonts a machine may have.
"""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from reach.drawings.papers.sheet_page import sheet_page
from tests.drawings.papers.test_run_sheet import HOSTILE, a_sheet, club


@pytest.fixture
def opened(any_browser, tmp_path):
    """Open a sheet with no network; gives the page and what it asked for or complained of."""
    context = any_browser.new_context(offline=True)

    def go(text: str, *, width: int = 1000):
        path = tmp_path / "sheet.html"
        path.write_text(text, encoding="utf-8")
        page = context.new_page()
        page.set_viewport_size({"width": width, "height": 900})
        noise: list[str] = []
        page.on(
            "request",
            lambda r: (
                None if r.url == path.as_uri() or r.url.startswith("data:font/") else noise.append(r.url)
            ),
        )
        page.on("pageerror", lambda e: noise.append(f"error: {e}"))
        page.on("console", lambda m: noise.append(f"console: {m.text}"))
        page.on("dialog", lambda d: (noise.append(d.message), d.dismiss()))
        page.goto(path.as_uri())
        return page, noise

    yield go
    context.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_24_stations_print_on_one_page(opened, paper: str) -> None:
    page, noise = opened(sheet_page(a_sheet()))
    pages = PdfReader(io.BytesIO(page.pdf(format=paper, prefer_css_page_size=False))).pages
    assert len(pages) == 1
    text = pages[0].extract_text()
    assert all(call_sign in text for call_sign in club().call_signs)
    assert noise == []


def test_type_is_11_points_or_larger_where_it_is_read_aloud(opened) -> None:
    page, _ = opened(sheet_page(a_sheet()))
    for part in ("p", "td.call", "td.said", "td.name", "tr.group span"):
        size_px = page.eval_on_selector(part, "e => parseFloat(getComputedStyle(e).fontSize)")
        assert size_px * 72.0 / 96.0 >= 11.0 - 1e-6


def test_nothing_hides_from_the_operator(opened) -> None:
    """No call sign or spoken word is cut off at the width of the paper."""
    page, _ = opened(sheet_page(a_sheet()), width=720)
    for part in ("td.call", "td.said", "td.name", ".note"):
        cut = page.eval_on_selector_all(part, "es => es.filter(e => e.scrollWidth > e.clientWidth).length")
        assert cut == 0


def test_hostile_names_stay_text(opened) -> None:
    page, noise = opened(sheet_page(a_sheet(club(24, HOSTILE))))
    assert noise == []
    assert page.locator("img").count() == 0
    assert page.locator("td.name", has_text="{{ 7*7 }}").count() > 0
