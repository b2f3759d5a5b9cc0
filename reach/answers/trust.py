"""How far plans can be trusted, judged by who was really heard: band by band, stations and paths that
disagree.
"""

from __future__ import annotations

from dataclasses import dataclass

from reach.answers.open_net import OpenNet
from reach.answers.record import Answer
from reach.answers.sheet import Sheet
from reach.errors import NoPlan
from reach.learning.correct import BandLearned
from reach.learning.trust import Trust, trust_in
from reach.learning.verdicts import OddPath, StationTotal, Verdict, odd_paths, station_totals, verdicts
from reach.lists import counted
from reach.machinery.progress import Watch, unwatched
from reach.notes import texts


@dataclass(frozen=True)
class BandTrust:
    """One band. trust : None with one net only, when nothing can be left out. left_out : reason ->
    reports.
    """

    band: str
    facts: int
    nets: int
    trust: Trust | None
    stations: tuple[StationTotal, ...]
    verdicts: tuple[Verdict, ...]
    odd_paths: tuple[OddPath, ...]
    left_out: tuple[tuple[str, int], ...]

    @property
    def sentence(self) -> str:
        """What was right about who hears whom, before and after."""
        if self.trust is None:
            return (
                f"{self.band}: {counted(self.facts, 'report')} of one evening; the next net will tell more."
            )
        before, after = self.trust.before, self.trust.after
        return (
            f"{self.band}: right about who was heard {100 * after.right:.0f} times in 100 with what other "
            f"nets taught, {100 * before.right:.0f} as predicted ({counted(self.facts, 'report')}, "
            f"{counted(self.nets, 'evening')})."
        )


@dataclass(frozen=True)
class TrustFigures:
    """The same for machines."""

    headline: str
    bands: tuple[BandTrust, ...]


@dataclass(frozen=True, kw_only=True)
class TrustAnswer(Answer):
    """bands : those that anything was learned of."""

    bands: tuple[BandTrust, ...]

    @property
    def figures(self) -> TrustFigures:
        """As Answer.figures."""
        return TrustFigures(self.headline, self.bands)


def trust(opened: OpenNet, *, watch: Watch = unwatched) -> TrustAnswer:
    """How far the plans of a net with reports can be trusted.

    Raises : NoPlan where nothing was learned yet, saying why; MissingTerrain; OutOfRange.
    """
    found: list[BandTrust] = []
    for name in opened.learned.bands:
        learned = opened.learned.band(name, watch=watch)
        if learned is not None:
            found.append(_band(learned))
    if not found:
        raise NoPlan(opened.learned.why_nothing)
    columns = ("band", "call_sign", "sends_db", "sends_sigma_db", "hears_db", "hears_sigma_db")
    rows = tuple(
        (one.band, s.call_sign, s.sends_db, s.sends_sigma_db, s.hears_db, s.hears_sigma_db)
        for one in found
        for s in one.stations
    )
    return TrustAnswer(
        net=opened.net,
        headline=" ".join(one.sentence for one in found),
        assumed=(),
        in_short=(),
        warnings=texts(opened.warnings),
        rows=Sheet(columns, rows),
        bands=tuple(found),
    )


def _band(learned: BandLearned) -> BandTrust:
    evidence, found = learned.evidence, learned.posterior
    return BandTrust(
        band=learned.name,
        facts=len(evidence.facts),
        nets=len(evidence.nets),
        trust=trust_in(evidence, found) if len(evidence.nets) > 1 else None,
        stations=station_totals(found),
        verdicts=verdicts(found),
        odd_paths=odd_paths(found),
        left_out=tuple((reason.value, count) for reason, count in evidence.left_out.items()),
    )
