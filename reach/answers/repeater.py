"""Who gets into each repeater, who only hears it, who does neither."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reach.answers.link_rows import repeater_rows
from reach.answers.open_net import OpenNet
from reach.answers.record import Answer
from reach.answers.sheet import Cell, one_sheet
from reach.answers.surveys import repeater_paths
from reach.inputs.lookup import find_repeaters
from reach.links.assumed import assumed_in_short, assumed_notes
from reach.links.network import RepeaterNetwork
from reach.links.outcome import outcome_sentence
from reach.machinery.progress import Watch, unwatched
from reach.notes import texts
from reach.stations import Repeater, Station


@dataclass(frozen=True)
class RepeaterFigures:
    """One repeater for machines: the answer in a sentence, a record a member."""

    repeater: str
    headline: str
    members: tuple[dict[str, Cell], ...]
    no_radio_path: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class RepeaterAnswer(Answer):
    """networks : every member against each repeater asked for; headlines : a sentence for each of them."""

    networks: tuple[RepeaterNetwork, ...]
    headlines: tuple[str, ...]

    @property
    def figures(self) -> tuple[RepeaterFigures, ...]:
        """As Answer.figures, one for each repeater."""
        return tuple(
            RepeaterFigures(
                network.repeater.call_sign, headline, repeater_rows(network).records, network.no_radio
            )
            for network, headline in zip(self.networks, self.headlines)
        )


def repeater(opened: OpenNet, call_signs: Sequence[str] = (), *, watch: Watch = unwatched) -> RepeaterAnswer:
    """Every member against the repeaters of these call signs, or against all of the net's when none is named.

    Raises : InputProblem for an unknown repeater, or none at all; MissingTerrain; OutOfRange.
    """
    net = opened.net
    repeaters = find_repeaters(net, call_signs)
    networks = repeater_paths(opened, repeaters, watch=watch)
    headlines = tuple(outcome_sentence(network) for network in networks)
    parties: tuple[Station | Repeater, ...] = (*repeaters, *net.stations)
    return RepeaterAnswer(
        net=net,
        headline=" ".join(headlines),
        assumed=assumed_notes(net, parties),
        in_short=assumed_in_short(net, parties),
        warnings=texts(opened.warnings, *(network.warnings for network in networks)),
        rows=one_sheet([repeater_rows(network) for network in networks]),
        networks=networks,
        headlines=headlines,
    )
