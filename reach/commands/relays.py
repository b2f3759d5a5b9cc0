"""`reach relays`: the fewest relays for a net control, who backs whom, and what a change would change."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from reach.commands.options import (
    SEED,
    channel_option,
    check_outputs,
    csv_option,
    deliver,
    folder_argument,
    json_option,
    replace_option,
    say,
    speaks_text,
)
from reach.commands.plan_options import RuleChoice, control_option, rule_options, rules_for, survey
from reach.errors import Fault, InputProblem
from reach.files import Existing


@dataclass(frozen=True)
class RelaysAnswer:
    """The plan for machines. differences : against the net as it is, for a what-if only."""

    channel: str
    headline: str
    plan: Any
    check_ins: Any
    differences: Any = ()


@click.command("relays")
@folder_argument
@channel_option
@control_option
@rule_options
@click.option(
    "--what-if",
    "changes",
    multiple=True,
    metavar="CHANGE",
    help='Plan again with a change and tell the difference: "without QK3ABC", "add QK9NEW base 41.30,-38.10",'
    ' "QK3ABC height 15 m", "... power 25 W", "... antenna 6 dBd", "... relay yes". May be given again.',
)
@click.option(
    "--evenings",
    type=click.IntRange(100, 1_000_000),
    default=10_000,
    show_default=True,
    help="Evenings to simulate.",
)
@click.option("--seed", type=SEED, default=1, show_default=True, help="Seed of the simulation.")
@json_option
@csv_option
@replace_option
def command(
    folder: Path,
    channel_name: str | None,
    control: str | None,
    readability: int | None,
    chance: float | None,
    longest_chain: int | None,
    chains: str,
    changes: tuple[str, ...],
    evenings: int,
    seed: int,
    json_file: str | None,
    csv_file: str | None,
    existing: Existing,
) -> None:
    """The fewest relays through which net control works everyone it can, and who steps in for whom.

    The plan is exact; it is the same each time. With --what-if only the differences are told.
    """
    check_outputs(json_file, csv_file, existing=existing)
    from reach.commands.results import NetAnswer, assumed_in_short, assumed_notes
    from reach.drawings.exports.machine import json_text
    from reach.drawings.style.cautions import SHORT
    from reach.drawings.tables.relay_tables import (
        difference_table,
        duties_table,
        surer_sentence,
        ways_sheet,
        ways_table,
        weak_sentence,
    )
    from reach.drawings.tables.terminal import answer, notes_text
    from reach.inputs.changes import changed_net
    from reach.inputs.club import read_net
    from reach.inputs.lookup import find_channel, find_station
    from reach.inputs.planning import read_planning
    from reach.plans.relays.forecast import forecast_check_ins
    from reach.plans.relays.net_control import rank_controls
    from reach.plans.relays.plan import plan_relays
    from reach.plans.relays.what_if import difference_sentence, plan_differences

    net = read_net(folder)
    planning = read_planning(folder)
    channel = find_channel(net, channel_name)
    rules = rules_for(planning, net, RuleChoice(readability, chance, longest_chain, chains))
    changed = changed_net(net, changes) if changes else net
    if control is not None:
        control = find_station(net, control).call_sign
        if control not in {station.call_sign for station in changed.stations}:
            fix = "name another net control"
            raise InputProblem(Fault(f"--control: the change leaves {control} out of the net", fix))
    network, terrain_warnings = survey(net, channel)
    chosen = control or rank_controls(network, rules)[0].call_sign
    plan = plan_relays(network, rules, control=chosen)
    notes = assumed_notes(net)
    warnings = tuple(
        dict.fromkeys(
            (*net.warnings, *planning.warnings, *terrain_warnings, *network.warnings, *plan.warnings)
        )
    )
    differences: tuple[Any, ...] = ()
    headline = plan.sentence
    if changes:
        network, _ = survey(changed, channel)
        after = plan_relays(network, rules, control=control or rank_controls(network, rules)[0].call_sign)
        differences = plan_differences(plan, after)
        headline = difference_sentence(differences, after)
        plan = after
    check_ins = forecast_check_ins(plan, network, seed=seed, evenings=evenings)
    result = RelaysAnswer(channel.name, headline, plan, check_ins, differences)
    deliver(json_text(NetAnswer(net.name, result, notes, warnings)), json_file, existing=existing)
    deliver(ways_sheet(plan, network).csv_text(), csv_file, existing=existing)
    if not speaks_text(json_file, csv_file):
        return
    blank = notes_text([""])
    if changes:
        say(answer(headline), blank)
        if differences:
            say(difference_table(differences), blank)
        say(notes_text([*warnings, SHORT]))
        return
    say(answer(headline), notes_text([check_ins.sentence]), blank)
    if plan.relays:
        say(duties_table(plan), blank, ways_table(plan), blank)
    for sentence in (surer_sentence(plan), weak_sentence(plan)):
        if sentence:
            say(notes_text([sentence]))
    for out in plan.left_out:
        say(notes_text([f"left out: {out.words}"]))
    for change in plan.changes:
        say(notes_text([f"one change: {change.words}."]))
    proof = (
        "every step is proven best"
        if plan.proven
        else "in the time allowed: " + "; ".join(p.words for p in plan.proofs if not p.is_tie_break)
    )
    how = (
        f"A link counts from {rules.threshold.words}; {proof}. To spare the busiest relay the expected number"
        f" heard may lie up to {rules.expected_slack:g} below the best."
    )
    say(notes_text([how, "", *warnings, *assumed_in_short(net), SHORT]))
