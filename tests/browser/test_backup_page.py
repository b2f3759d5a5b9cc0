"""The map of the backup plan in a real browser: its cases switch lines, dots, list and headline."""

from __future__ import annotations

from dataclasses import replace

from reach.answers.outages import planned_cases
from reach.drawings.maps.backup_map import backup_map
from reach.inputs.planning import BatteryRules
from reach.plans.outages.backup import Part
from reach.plans.relays.rules import RelayRules
from reach.stations import BackupPower, Position
from tests.browser.test_map_pages import Ridge
from tests.browser.waiting import wait_until
from tests.plans.invented_survey import invented_survey


def test_cases_switch_between_them(visit) -> None:
    survey = invented_survey(10, seed=3, repeaters=1)
    net = survey.net
    stations = tuple(
        replace(s, backup=BackupPower(hours=5.0 + k) if k % 2 else None) for k, s in enumerate(net.stations)
    )
    survey = replace(survey, simplex=replace(survey.simplex, net=replace(net, stations=stations)))
    cases = planned_cases(survey, RelayRules(), BatteryRules())
    seen = visit(backup_map(survey, cases))
    page = seen.page
    assert page.locator("button[data-case]").count() == len(cases) > 2
    for number, case in enumerate(cases):
        page.locator(f"button[data-case='{number}']").click()
        assert page.locator(".answer h1").inner_text() == case.plan.sentence
        # a line for everyone in the net, but for net control on simplex; a line through a relay is cased
        lines = len(case.plan.in_net) - (0 if case.plan.hub else 1 if case.plan.control else 0)
        counted = page.locator("[data-count]").all_inner_texts()
        assert sum(map(int, counted)) == lines
        drawn = page.locator(".leaflet-links-pane path.link, .leaflet-plan-pane path.link").count()
        relayed = sum(1 for way in case.plan.ways if way.via)
        assert drawn == lines + relayed
        status = page.locator("button[data-station]", has_text=cases[0].plan.control).first.inner_text()
        assert ("net control" in status) is (case.plan.control == cases[0].plan.control)
        struck = page.locator(".symbol svg path[d^='M-8.4']").count()
        dark = len(case.plan.standing.dark) + len(
            case.plan.outage.repeaters | set(case.plan.standing.dark_repeaters)
        )
        assert struck >= dark
    assert seen.troubles == []


def test_a_line_shows_its_profile_in_every_case(visit) -> None:
    """On the repeater with its wavelength, on simplex with that of the channel."""
    survey = invented_survey(10, seed=3, repeaters=1)
    stations = tuple(
        replace(s, position=Position(41.0 + 0.03 * (k % 3), -38.0 + 0.05 * k))
        for k, s in enumerate(survey.net.stations)
    )
    net = replace(survey.net, stations=stations)
    survey = replace(survey, simplex=replace(survey.simplex, net=net))
    cases = planned_cases(survey, RelayRules(), BatteryRules())
    page = visit(backup_map(survey, cases, ground=Ridge())).page
    shown = 0
    for number, case in enumerate(cases):
        page.locator(f"button[data-case='{number}']").click()
        page.locator("input[data-only-chosen]").set_checked(False)
        way = next((w for w in case.plan.ways if w.part is Part.DIRECT), None)
        if way is None:
            continue
        other = way.over or case.plan.control
        ends = [
            page.locator(f".leaflet-marker-icon[aria-label^='{call}']").bounding_box()
            for call in (way.call_sign, other)
        ]
        (x1, y1), (x2, y2) = ((b["x"] + b["width"] / 2, b["y"] + b["height"] / 2) for b in ends)
        page.mouse.click(x1 + 0.3 * (x2 - x1), y1 + 0.3 * (y2 - y1))
        assert wait_until(
            page,
            "() => document.querySelector('.leaflet-popup svg.profile polygon.zone')?.getAttribute('points')",
        )
        page.keyboard.press("Escape")
        wait_until(page, "() => document.querySelectorAll('.leaflet-popup').length === 0")
        shown += 1
    assert shown >= 2


def test_a_shared_backup_page_says_so_and_carries_no_profile() -> None:
    survey = invented_survey(10, seed=3, repeaters=1)
    cases = planned_cases(survey, RelayRules(), BatteryRules())
    open_page = backup_map(survey, cases, ground=Ridge())
    assert '"w":' in open_page and "For the planner only" in open_page
    net = replace(survey.net, shared_square_m=2000.0)
    public = replace(survey, simplex=replace(survey.simplex, net=net))
    page = backup_map(public, cases, ground=Ridge())
    assert '"w":' not in page and "its square of 2 km" in page
