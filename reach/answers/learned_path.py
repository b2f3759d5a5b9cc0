"""One link predicted, heard and corrected, side by side."""

from __future__ import annotations

import datetime
from collections import Counter
from dataclasses import dataclass

from reach.answers.learned import band_of_channel, band_of_repeater
from reach.answers.open_net import OpenNet
from reach.answers.surveys import repeater_paths, simplex_paths
from reach.learning.chances import ChanceParts, chance_parts
from reach.learning.evidence import Fact
from reach.links.network import DirectedLink
from reach.links.path_study import PathStudy
from reach.lists import counted
from reach.machinery.progress import Watch
from reach.stations import Channel, Repeater

PROVEN_SHARE, PROVEN_EVENINGS, PROVEN_DAYS = 0.9, 2, 365


@dataclass(frozen=True)
class LearnedLink:
    """How `predicted.rx` hears `predicted.tx`. evenings : on which anything was reported; heard : of these.

    readability : the one given most, None without grades. parts : of the corrected chance.
    proven : works nearly always, and was heard on two evenings of the latest year with reports.
    """

    predicted: DirectedLink
    corrected: DirectedLink
    evenings: int
    heard: int
    last_heard: datetime.date | None
    readability: int | None
    parts: ChanceParts
    proven: bool

    @property
    def heard_words(self) -> str:
        """'heard on 12 of 13 evenings, mostly R4, last 2026-11-24'."""
        if not self.evenings:
            return "nobody reported it"
        said = f"heard on {self.heard} of {counted(self.evenings, 'evening')}"
        if self.readability is not None:
            said += f", mostly R{self.readability}"
        if self.last_heard is not None:
            said += f", last {self.last_heard.isoformat()}"
        return f"proven: {said}" if self.proven else said


def learned_links(
    opened: OpenNet, study: PathStudy, channel: Channel, *, watch: Watch
) -> tuple[LearnedLink, LearnedLink] | None:
    """The path of a study as reports see it, there and back; None without reports on its band.

    Raises : MissingTerrain, OutOfRange.
    """
    hub = next((end for end in (study.left, study.right) if isinstance(end, Repeater)), None)
    band = band_of_channel(channel) if hub is None else band_of_repeater(hub)
    learned = opened.learned.band(band, watch=watch)
    if learned is None:
        return None
    a, b = study.left.call_sign, study.right.call_sign
    if hub is None:
        network = simplex_paths(opened, channel, watch=watch)
        corrected = network.link(a, b), network.link(b, a)
    else:
        member = repeater_paths(opened, [hub], watch=watch)[0].member(b if hub.call_sign == a else a)
        ways = {link.tx: link for link in (member.talk_in, member.talk_out)}
        corrected = ways[a], ways[b]
    facts = learned.evidence.facts
    latest = learned.evidence.nets[-1]
    there = _learned(study.there, corrected[0], facts, latest)
    return there, _learned(study.back, corrected[1], facts, latest)


def _learned(
    predicted: DirectedLink, corrected: DirectedLink, facts: tuple[Fact, ...], latest: datetime.date
) -> LearnedLink:
    own = [f for f in facts if f.sender == predicted.tx and f.listener == predicted.rx]
    heard = {fact.evening for fact in own if fact.heard}
    grades = Counter(fact.readability for fact in own if fact.readability is not None)
    spread = corrected.spread
    assert spread is not None
    parts = chance_parts(
        margin_db=corrected.margin_db,
        lasting_variance=float(spread.lasting_db) ** 2,
        evening_sigma_db=float(spread.time_db),
    )
    lately = [evening for evening in heard if (latest - evening).days <= PROVEN_DAYS]
    return LearnedLink(
        predicted=predicted,
        corrected=corrected,
        evenings=len({fact.evening for fact in own}),
        heard=len(heard),
        last_heard=max(heard, default=None),
        readability=max(grades, key=lambda r: (grades[r], r)) if grades else None,
        parts=parts,
        proven=parts.always >= PROVEN_SHARE and len(lately) >= PROVEN_EVENINGS,
    )
