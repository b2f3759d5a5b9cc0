"""Options of the commands that plan a simplex net, and the planning they have in common."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from reach.commands.options import CHANCE

if TYPE_CHECKING:
    from reach.inputs.planning import PlanningRules
    from reach.links.network import RepeaterNetwork, SimplexNetwork
    from reach.plans.relays.rules import RelayRules
    from reach.stations import Channel, Net

Command = TypeVar("Command", bound=Callable[..., object])


def control_option(command: Command) -> Command:
    """--control CALL."""
    return click.option(
        "--control", metavar="CALL", default=None, help="Plan for this net control instead of the best one."
    )(command)


def rule_options(command: Command) -> Command:
    """Options that go before the [planning] table of net.toml."""
    options = (
        click.option(
            "--readability",
            type=click.IntRange(2, 5),
            help="Lowest readability that counts, R2 to R5, both ways.",
        ),
        click.option(
            "--chance",
            type=CHANCE,
            help="Lowest chance that counts, both ways, e.g. 0.8.",
        ),
        click.option(
            "--longest-chain", type=click.IntRange(0, 3), help="Most relays between a member and net control."
        ),
        click.option(
            "--chains",
            type=click.Choice(["shortest", "fewest-relays"]),
            default="shortest",
            show_default=True,
            help="Keep each chain as short as the ground allows, or let chains grow to save relays.",
        ),
    )
    for option in reversed(options):
        command = option(command)
    return command


@dataclass(frozen=True)
class RuleChoice:
    """What the options said; None leaves it to net.toml."""

    readability: int | None
    chance: float | None
    longest_chain: int | None
    chains: str


def rules_for(planning: PlanningRules, net: Net, choice: RuleChoice) -> RelayRules:
    """Rules of the net's folder with the options ahead of them. Raises : InputProblem, OutOfRange."""
    from reach.errors import Fault, InputProblem
    from reach.inputs.lookup import find_station
    from reach.plans.graph.reachability import ChanceThreshold, ReadabilityThreshold
    from reach.plans.relays.rules import Chains, rules_of

    if choice.readability is not None and choice.chance is not None:
        raise InputProblem(Fault("--readability and --chance both set the threshold", "give one of them"))
    for call in planning.control_candidates:
        find_station(net, call)
    rules = rules_of(planning)
    if choice.readability is not None:
        rules = replace(rules, threshold=ReadabilityThreshold(choice.readability))
    if choice.chance is not None:
        rules = replace(rules, threshold=ChanceThreshold(choice.chance))
    if choice.longest_chain is not None:
        rules = replace(rules, chain_limit=choice.longest_chain)
    return replace(rules, chains=Chains(choice.chains.replace("-", "_")))


def survey(net: Net, channel: Channel) -> tuple[SimplexNetwork, tuple[str, ...]]:
    """The simplex network of a net and the terrain's warnings."""
    from reach.commands.net_folder import open_terrain
    from reach.commands.surveys import simplex_paths

    with open_terrain(net) as terrain:
        return simplex_paths(net, terrain, channel), tuple(terrain.warnings)


def survey_repeaters(net: Net) -> tuple[RepeaterNetwork, ...]:
    """Every repeater of the net."""
    from reach.commands.net_folder import open_terrain
    from reach.commands.surveys import repeater_paths

    if not net.repeaters:
        return ()
    with open_terrain(net) as terrain:
        return repeater_paths(net, terrain, net.repeaters)


def file_of(folder: Path, name: str) -> str | None:
    """Text of a file in the net folder, None when it is not there. Raises : InputProblem."""
    from reach.inputs.text_files import read_text_file

    path = folder / name
    return read_text_file(path) if path.exists() else None
