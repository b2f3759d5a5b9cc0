"""Go-kit sheets printed by a browser: one page an operator on A4 and Letter; nothing run or fetched."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from pypdf import PdfReader

from reach.answers.outages import planned_cases
from reach.drawings.papers.go_kit import kit_page
from reach.drawings.papers.go_kit_page import kit_pages_html
from reach.inputs.planning import BatteryRules
from reach.plans.relays.rules import RelayRules
from tests.plans.invented_survey import invented_survey

HOSTILE = "<img src=x onerror=alert(1)><script>alert(2)</script>{{7*7}}"


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_one_printed_page_an_operator(any_browser, tmp_path, paper: str) -> None:
    survey = invented_survey(24, seed=6, repeaters=2)
    stations = tuple(replace(s, name=HOSTILE) for s in survey.net.stations)
    survey = replace(survey, simplex=replace(survey.simplex, net=replace(survey.net, stations=stations)))
    cases = planned_cases(survey, RelayRules(), BatteryRules())
    sheets = [
        kit_page(survey, cases, call, battery=BatteryRules(), made_from="Planned.")
        for call in survey.call_signs
    ]
    path = tmp_path / "kit.html"
    path.write_text(kit_pages_html(sheets), encoding="utf-8")
    context = any_browser.new_context(offline=True)
    page = context.new_page()
    requests, troubles = [], []
    page.on("request", lambda r: None if r.url.startswith("data:font/") else requests.append(r.url))
    page.on("pageerror", lambda e: troubles.append(str(e)))
    page.on("dialog", lambda d: (troubles.append(d.message), d.dismiss()))
    page.goto(path.as_uri())
    printed = PdfReader(io.BytesIO(page.pdf(format=paper)))
    smallest = page.evaluate(
        "() => Math.min(...[...document.querySelectorAll('body *')]"
        ".map(e => parseFloat(getComputedStyle(e).fontSize)))"
    )
    context.close()
    assert requests == [path.as_uri()] and troubles == []
    assert len(printed.pages) == len(sheets)
    for sheet, leaf in zip(sheets, printed.pages, strict=True):
        text = leaf.extract_text()
        assert text.count(sheet.spoken) == 1 and sheet.cautions[-1][:30] in " ".join(text.split())
    assert smallest * 72.0 / 96.0 >= 11.0 - 1e-6
