"""The sheet for going on with tonight's net on paper: the plan of the page, for everyone still to come."""

from __future__ import annotations

import datetime
from dataclasses import replace

from reach.answers.evening_plan import EveningNet, plan_for
from reach.answers.made_from import sheet_words
from reach.answers.repeater_net import repeater_net
from reach.answers.run_sheet import Occasion, RunSheetAnswer, sheet_of_plan
from reach.errors import ReachError
from reach.evening.fold import Sitting
from reach.inputs.nets import MeetsOn
from reach.stations import Repeater


def evening_sheet(
    tonight: EveningNet,
    sitting: Sitting,
    *,
    zone: datetime.tzinfo,
    stamp: datetime.datetime,
    script: str | None,
) -> RunSheetAnswer:
    """The whole net under whoever leads it now. stamp : UTC.

    Raises : ReachError where nothing can be planned.
    """
    network = tonight.survey.simplex
    opened = sitting.opened.astimezone(zone)
    occasion = Occasion(
        made_from=sheet_words(network, tonight.rules.threshold, stamp=stamp),
        date=f"{opened:%a %Y-%m-%d}",
        time=f"{opened:%H:%M %Z}",
        control=sitting.control,
    )
    if sitting.control not in network.call_signs:
        raise ReachError(f"{sitting.control} is not in the roster, so no sheet can be planned around it.")
    if isinstance(tonight.on, Repeater):
        hub = repeater_net(tonight.survey, tonight.on, tonight.rules, wished=sitting.control)
        made = sheet_of_plan(hub.plan, network, occasion, planned_on=hub.network, script=script)
        return replace(made, kind=MeetsOn.REPEATER, repeater_net=hub)
    everyone = tuple(station.call_sign for station in tonight.net.stations if station.has_radio_path)
    plan, why = plan_for(tonight, sitting.control, everyone)
    if plan is None:
        raise ReachError(why)
    return sheet_of_plan(plan, network, occasion, script=script)
