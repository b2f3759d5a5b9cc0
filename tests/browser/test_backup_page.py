"""The map of the backup plan in a real browser: its cases switch lines, dots, list and headline."""

from __future__ import annotations

from dataclasses import replace

from reach.answers.outages import planned_cases
from reach.drawings.maps.backup_map import backup_map
from reach.inputs.planning import BatteryRules
from reach.plans.relays.rules import RelayRules
from reach.stations import BackupPower
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
