"""What the guide says of the demo: every sentence and figure in it that was computed, from the demo as it is.

`python tests/guide.py` writes them into the guide anew.
"""

from __future__ import annotations

import html
import re
import tempfile
from pathlib import Path

import numpy as np

from reach.answers.backup import backup
from reach.answers.open_net import open_net
from reach.answers.path import path
from reach.answers.relays import RelaysAnswer, relays
from reach.answers.repeater import repeater
from reach.demo.folder import make_demo_folder
from reach.drawings.guide.book import guide_place
from reach.links.sayings import chance_in_figures, chance_in_words

MARK = re.compile(
    r'(?P<start><(?P<tag>b|q) data-demo="(?P<name>[a-z0-9-]+)">)(?P<said>.*?)(?=</(?P=tag)>)', re.DOTALL
)


def facts(club: Path) -> dict[str, str]:
    """Name of a fact -> how it is said, of the demo's folder."""
    with open_net(club) as opened:
        planned = relays(opened)
        on_repeater = repeater(opened, ["QK3RA"])
        failing = backup(opened)
        one_path = path(opened, left="QK3CDR", right="QK3MPL")
        told = {**_of_relays(planned), **_of_margins(planned)}
    hears_only = sorted(m.call_sign for m in on_repeater.networks[0].members if m.hears and not m.gets_in)
    all_down, dark = failing.case("D"), failing.case("F")
    assert dark.timeline is not None and dark.timeline.changes_h is not None
    return told | {
        "simplex": planned.headline,
        "repeater": on_repeater.headlines[0],
        "hears-only": " and ".join(hears_only),
        "path": one_path.headline,
        "cases": failing.headline,
        "all-down": all_down.plan.sentence,
        "dark": dark.plan.sentence,
        "dark-changes": f"{dark.timeline.changes_h:.2g} hours",
    }


def _of_relays(planned: RelaysAnswer) -> dict[str, str]:
    weakest = min(planned.plan.relayed, key=lambda one: (one.chance, one.call_sign))
    surest = max(
        planned.plan.relayed, key=lambda one: (one.chance - one.direct_chance) * bool(one.direct_chance)
    )
    return {
        "check-ins": planned.check_ins.sentence,
        "weakest": f"{weakest.call_sign} through {' and '.join(weakest.via)}",
        "weakest-chance": chance_in_words(weakest.chance),
        "gains": surest.call_sign,
        "gains-direct": chance_in_words(surest.direct_chance),
        "gains-via": surest.via[0],
        "gains-chance": chance_in_words(surest.chance),
    }


def _of_margins(planned: RelaysAnswer) -> dict[str, str]:
    """The usual chance of a link, one way, with so many dB to spare: the median of those within 1 dB."""
    network = planned.network
    found = {}
    for margin_db in (3, 10, 20):
        near = np.abs(network.margin_db - margin_db) <= 1.0  # NaN compares false
        assert near.sum() >= 5, margin_db
        found[f"db-{margin_db}"] = chance_in_figures(float(np.median(network.chance[near])))
    return found


def said(text: str) -> list[tuple[str, str]]:
    """(fact, as it stands in the guide), in order."""
    return [(one["name"], html.unescape(" ".join(one["said"].split()))) for one in MARK.finditer(text)]


def rewritten(text: str, known: dict[str, str]) -> str:
    """The guide with every fact as it is now."""
    return MARK.sub(lambda one: one["start"] + html.escape(known[one["name"]], quote=False), text)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "demo"
        folder.mkdir()
        make_demo_folder(folder)
        place = guide_place()
        place.write_text(rewritten(place.read_text(encoding="utf-8"), facts(folder)), encoding="utf-8")
