"""A relay plan, a rota, a whole evening and a what-if as tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rich.table import Table

from reach.drawings.calendar import rota_rows
from reach.drawings.machine import Cell, Sheet
from reach.drawings.tables import quiet_table
from reach.drawings.words import signed
from reach.links.network import SimplexNetwork
from reach.links.words import chance_in_words
from reach.plans.evening import Evening
from reach.plans.reachability import reach_graph
from reach.plans.relays import RelayPlan
from reach.plans.rota import Turn
from reach.plans.what_if import Difference


def duties_table(plan: RelayPlan) -> Table:
    """Who relays for whom, and who stands by."""
    rows = [
        (duty.call_sign, "relay", duty.answers_to, str(duty.load), ", ".join(duty.serves))
        for duty in plan.relays
    ]
    rows += [(standby.call_sign, "stand-by", "", "", ", ".join(standby.backs)) for standby in plan.standbys]
    columns = (
        ("station", "left"),
        ("part", "left"),
        ("answers to", "left"),
        ("load", "right"),
        ("for", "left"),
    )
    return quiet_table("Relays; load is the number of stations whose traffic one passes", columns, rows)


def ways_table(plan: RelayPlan) -> Table:
    """First and second way of every station that needs a relay."""
    rows = [
        (
            station.call_sign,
            " > ".join((*station.via, plan.control)),
            chance_in_words(station.chance),
            signed(station.weakest_db),
            " > ".join((*station.second, plan.control)) if station.second else "none",
        )
        for station in plan.relayed
    ]
    columns = (
        ("station", "left"),
        ("via", "left"),
        ("chance", "left"),
        ("dB to spare", "right"),
        ("if that relay is missing", "left"),
    )
    return quiet_table(
        "Ways to net control; dB to spare is the weakest link's over the threshold", columns, rows
    )


def ways_sheet(plan: RelayPlan, network: SimplexNetwork) -> Sheet:
    """Every station of the plan for a spreadsheet, a row each; spare_db is over the plan's threshold."""
    graph = reach_graph(network, plan.rules.threshold)
    at = graph.index(plan.control)
    columns = ("station", "part", "via", "second_via", "chance", "spare_db", "near_miss")
    standbys = {standby.call_sign for standby in plan.standbys}
    rows: list[tuple[Cell, ...]] = [(plan.control, "net control", "", "", None, None, "")]
    for call in plan.direct:
        part = "relay" if call in plan.relay_calls else "stand-by" if call in standbys else "direct"
        place = graph.index(call)
        chance, spare_db = graph.pair_chance[at, place], graph.pair_spare_db[at, place]
        rows.append((call, part, "", "", float(chance), float(spare_db), ""))
    for station in plan.relayed:
        part = "relay" if station.call_sign in plan.relay_calls else "relayed"
        via, second = " > ".join(station.via), " > ".join(station.second)
        rows.append((station.call_sign, part, via, second, station.chance, station.weakest_db, ""))
    rows += [(out.call_sign, "left out", "", "", None, None, out.words) for out in plan.left_out]
    rows += [(call, "no radio path", "", "", None, None, "") for call in plan.no_radio]
    return Sheet(columns, tuple(rows))


def rota_table(turns: Sequence[Turn], names: Mapping[str, str]) -> Table:
    """Dates, who controls, who stands in."""
    columns = (("date", "left"), ("start", "left"), ("net control", "left"), ("stand-in", "left"))
    return quiet_table("Rota", columns, rota_rows(turns, names))


def rota_sheet(turns: Sequence[Turn]) -> Sheet:
    """The rota for a spreadsheet."""
    rows = tuple((turn.start.isoformat(), turn.control, turn.stand_in) for turn in turns)
    return Sheet(("start", "net_control", "stand_in"), rows)


def evening_table(evening: Evening) -> Table:
    """Every member on the repeater and on simplex."""
    rows = [
        (
            member.call_sign,
            f"gets into {member.repeater}" if member.repeater else _hears(member.hears),
            f"{member.part.value}{f' {member.via}' if member.via else ''}",
        )
        for member in evening.members
    ]
    columns = (("station", "left"), ("on the repeater", "left"), ("on simplex", "left"))
    return quiet_table("The evening", columns, rows)


def _hears(repeaters: Sequence[str]) -> str:
    return f"only hears {', '.join(repeaters)}" if repeaters else "no"


def difference_table(differences: Sequence[Difference]) -> Table:
    """What a change changes, a line each."""
    rows = [(difference.aspect.value, difference.words) for difference in differences]
    return quiet_table("What changes", (("about", "left"), ("change", "left")), rows)
