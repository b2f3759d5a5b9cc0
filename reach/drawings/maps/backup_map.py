"""The map of one case of the backup plan: around net control or a repeater, relays, and who is out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from reach.answers.tonight import tonight_headline
from reach.drawings.maps.link_profiles import KnowsGround
from reach.drawings.maps.net_map import repeater_map, simplex_map
from reach.drawings.maps.page import OnlineTiles
from reach.drawings.maps.picture import MapPicture
from reach.drawings.maps.plan_marks import CutOff, PlanMarks
from reach.plans.outages.backup import OutagePlan, Part
from reach.plans.outages.failures import NetSurvey, without_stations


def backup_map(
    survey: NetSurvey,
    plan: OutagePlan,
    *,
    relief: MapPicture | None = None,
    notes: Sequence[str] = (),
    online: OnlineTiles | None = None,
    ground: KnowsGround | None = None,
) -> str:
    """One HTML page: those who are on the air, on simplex or around the repeater the net gathers on.

    Raises : ValueError when nobody is left on the air.
    """
    gone = [way.call_sign for way in plan.ways if way.part in (Part.DARK, Part.ABSENT)]
    marks = PlanMarks(
        control=plan.control or None,
        relays=tuple(way.call_sign for way in plan.ways if way.serves),
        served_by={way.call_sign: way.serves for way in plan.ways if way.serves},
        cut_off=tuple(CutOff(way.call_sign, way.near_miss) for way in plan.ways if way.part is Part.CUT_OFF),
        reasons=_reasons(plan, gone),
    )
    headline = tonight_headline(survey.net, plan.sentence)
    if not plan.hub:
        network = without_stations(survey.simplex, gone)
        return simplex_map(
            network, headline=headline, relief=relief, marks=marks, notes=notes, online=online, ground=ground
        )
    hub = survey.repeater(plan.hub)
    net = replace(hub.net, stations=tuple(s for s in hub.net.stations if s.call_sign not in gone))
    left = replace(hub, net=net, members=tuple(m for m in hub.members if m.call_sign not in gone))
    return repeater_map(
        left, headline=headline, relief=relief, marks=marks, notes=notes, online=online, ground=ground
    )


def _reasons(plan: OutagePlan, gone: Sequence[str]) -> tuple[str, ...]:
    reasons = [f"{way.call_sign} relays for {', '.join(way.serves)}." for way in plan.ways if way.serves]
    if plan.standing.dark:
        reasons.append(f"Off the air without backup power: {', '.join(plan.standing.dark)}.")
    if plan.standing.absent:
        reasons.append(f"Absent: {', '.join(plan.standing.absent)}.")
    if plan.standing.dark_repeaters:
        reasons.append(f"Repeaters without backup power: {', '.join(plan.standing.dark_repeaters)}.")
    if plan.advice:
        reasons.append(plan.advice)
    return tuple(reasons)
