"""A relay plan, a rota, a whole evening and a what-if as tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rich.table import Table

from reach.answers.sheet import Cell, Sheet
from reach.drawings.exports.calendar import rota_rows
from reach.drawings.style.words import signed
from reach.drawings.tables.terminal import quiet_table
from reach.links.network import SimplexNetwork
from reach.links.words import chance_in_words
from reach.plans.graph.reachability import reach_graph
from reach.plans.relays.plan import RelayedStation, RelayPlan
from reach.plans.relays.rota import Turn
from reach.plans.relays.what_if import Difference


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
    """First and second way of every station that goes through a relay."""
    rows = [
        (
            station.call_sign,
            " > ".join((*station.via, plan.control)),
            chance_in_words(station.chance),
            signed(station.weakest_db),
            _otherwise(station, plan.control),
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


def _otherwise(station: RelayedStation, control: str) -> str:
    if station.second:
        return " > ".join((*station.second, control))
    return f"directly, {chance_in_words(station.direct_chance)}" if station.direct_chance else "none"


def surer_sentence(plan: RelayPlan) -> str:
    """Who works net control directly but goes through a relay, with both chances; '' for nobody."""
    parts = [
        f"{station.call_sign} {chance_in_words(station.direct_chance)}, through {station.via[0]}"
        f" {chance_in_words(station.chance)}"
        for station in plan.relayed
        if station.direct_chance
    ]
    if not parts:
        return ""
    return f"Surer through a relay than directly: {'; '.join(parts)}."


def weak_sentence(plan: RelayPlan) -> str:
    """Who is called directly though not heard every time, and whom to ask then; '' for nobody."""
    parts = [
        f"{weak.call_sign} {chance_in_words(weak.chance)}"
        + (
            f", else ask {weak.ask} ({chance_in_words(weak.ask_chance)})"
            if weak.ask
            else ", no relay or stand-by works it"
        )
        for weak in plan.weak
    ]
    return f"Called directly, but not heard every time: {'; '.join(parts)}." if parts else ""


def ways_sheet(plan: RelayPlan, network: SimplexNetwork) -> Sheet:
    """Every station of the plan for a spreadsheet, a row each; spare_db is over the plan's threshold."""
    graph = reach_graph(network, plan.rules.threshold)
    at = graph.index(plan.control)
    columns = ("station", "part", "via", "second_via", "chance", "direct_chance", "spare_db", "near_miss")
    standbys = {standby.call_sign for standby in plan.standbys}
    rows: list[tuple[Cell, ...]] = [(plan.control, "net control", "", "", None, None, None, "")]
    ask = {weak.call_sign: weak.ask for weak in plan.weak}
    for call in plan.direct:
        part = "relay" if call in plan.relay_calls else "stand-by" if call in standbys else "direct"
        place = graph.index(call)
        chance, spare_db = float(graph.pair_chance[at, place]), float(graph.pair_spare_db[at, place])
        rows.append((call, part, "", ask.get(call, ""), chance, chance, spare_db, ""))
    for station in plan.relayed:
        part = "relay" if station.call_sign in plan.relay_calls else "relayed"
        via, second = " > ".join(station.via), " > ".join(station.second)
        directly = station.direct_chance or None
        figures = (station.chance, directly, station.weakest_db)
        rows.append((station.call_sign, part, via, second, *figures, ""))
    rows += [(out.call_sign, "left out", "", "", None, None, None, out.words) for out in plan.left_out]
    rows += [(call, "no radio path", "", "", None, None, None, "") for call in plan.no_radio]
    return Sheet(columns, tuple(rows))


def rota_table(turns: Sequence[Turn], names: Mapping[str, str]) -> Table:
    """Dates, who controls, who stands in."""
    columns = (("date", "left"), ("start", "left"), ("net control", "left"), ("stand-in", "left"))
    return quiet_table("Rota", columns, rota_rows(turns, names))


def rota_sheet(turns: Sequence[Turn]) -> Sheet:
    """The rota for a spreadsheet."""
    rows = tuple((turn.start.isoformat(), turn.control, turn.stand_in) for turn in turns)
    return Sheet(("start", "net_control", "stand_in"), rows)


def difference_table(differences: Sequence[Difference]) -> Table:
    """What a change changes, a line each."""
    rows = [(difference.aspect.value, difference.words) for difference in differences]
    return quiet_table("What changes", (("about", "left"), ("change", "left")), rows)
