"""The rules a plan keeps to: those of the net's folder, with what was asked for this time ahead of them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reach.errors import Fault, InputProblem
from reach.inputs.lookup import find_station
from reach.inputs.net_folder import NetFolder
from reach.plans.graph.reachability import ChanceThreshold, ReadabilityThreshold
from reach.plans.relays.rules import Chains, RelayRules, rules_of


@dataclass(frozen=True)
class RuleChoice:
    """What is asked for this time; None leaves it to net.toml.

    readability : lowest that counts, 2 to 5; chance : lowest that counts, 0 to 1; one of them at most.
    longest_chain : most relays between a member and net control.
    chains : how long chains may grow.
    """

    readability: int | None = None
    chance: float | None = None
    longest_chain: int | None = None
    chains: Chains = Chains.SHORTEST


AS_WRITTEN = RuleChoice()


def chosen_rules(folder: NetFolder, choice: RuleChoice = AS_WRITTEN) -> RelayRules:
    """Rules of the folder with the choice ahead of them. Raises : InputProblem, OutOfRange."""
    if choice.readability is not None and choice.chance is not None:
        raise InputProblem(Fault("--readability and --chance both set the threshold", "give one of them"))
    for call in folder.planning.control_candidates:
        find_station(folder.net, call)
    rules = replace(rules_of(folder.planning), chains=choice.chains)
    if choice.readability is not None:
        rules = replace(rules, threshold=ReadabilityThreshold(choice.readability))
    if choice.chance is not None:
        rules = replace(rules, threshold=ChanceThreshold(choice.chance))
    if choice.longest_chain is not None:
        rules = replace(rules, chain_limit=choice.longest_chain)
    return rules
