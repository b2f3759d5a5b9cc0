"""What a plan was made from, for the foot of a paper."""

from __future__ import annotations

import datetime
from pathlib import Path

from reach.inputs.roster import ROSTER_FILE
from reach.inputs.settings import NET_FILE
from reach.links.network import SimplexNetwork
from reach.notes import NoteKind
from reach.plans.graph.reachability import Threshold
from reach.stations import Net


def files_words(net: Net) -> str:
    """'our-net/net.toml and roster.csv'."""
    return f"{Path(net.folder).name}/{NET_FILE} and {ROSTER_FILE}"


def model_words(network: SimplexNetwork, threshold: Threshold) -> str:
    """By which path-loss model, from where a link counts, and on how many reports it stands."""
    model = network.model or network.net.model
    heard = [note.text for note in network.warnings if note.kind is NoteKind.HEARD]
    return " ".join([f"path-loss model {model}; a link counts from {threshold.words}.", *heard])


def sheet_words(network: SimplexNetwork, threshold: Threshold, *, stamp: datetime.datetime | None) -> str:
    """From which files and by which model, for the foot of a sheet."""
    net = network.net
    return (
        f"{planned_words(stamp)} from {files_words(net)} ({len(net.stations)} stations) with"
        f" {model_words(network, threshold)}"
    )


def undated_words(network: SimplexNetwork, threshold: Threshold) -> str:
    """From which net and by which model, where no day and no file is to be named."""
    net = network.net
    return f"Planned for {net.name} ({len(net.stations)} stations) with {model_words(network, threshold)}"


def planned_words(stamp: datetime.datetime | None) -> str:
    """'Planned 2026-12-01 19:30 UTC', or 'Planned' where no minute is to stand on the paper."""
    return "Planned" if stamp is None else f"Planned {stamp:%Y-%m-%d %H:%M} UTC"
