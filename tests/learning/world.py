"""Invented clubs whose truth is known: drawn from the model, and what their members would report."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.inputs.reports import ListKind, Outcome, Report
from reach.learning.evidence import Evidence, evidence
from reach.learning.model import BandModel, FloatArray, functionals

FIRST = datetime.datetime(2026, 1, 6, 19, 30, tzinfo=datetime.UTC)
EDGES_DB = np.array([-5.0, 0.0, 3.0, 8.0])
KINDS = ((0.5, 3.2, 1.5), (0.25, 4.2, 1.6), (0.25, 5.5, 2.4))  # share, c, s: base, on wheels, in the hand


def invented_model(rng: np.random.Generator, stations: int) -> BandModel:
    """Half of the stations at home, a quarter each on wheels and in the hand; margins from -25 to 35 dB."""
    counts = [round(share * stations) for share, *_ in KINDS[1:]]
    counts = [stations - sum(counts), *counts]
    common = np.repeat([c for _, c, _ in KINDS], counts)
    send = np.repeat([s for *_, s in KINDS], counts)
    one, other = np.triu_indices(stations, 1)
    p = len(one)
    margin = rng.normal(3.0, 12.0, (p, 1)) + rng.normal(0.0, 2.0, (p, 2))
    return BandModel(
        tuple(f"QK{i // 26}A{chr(65 + i % 26)}" for i in range(stations)),
        common, send, np.full(stations, 3.4), np.full(stations, 2.0), np.full(stations, 10.0),
        np.stack([one, other], axis=1), margin, margin - 110.0,
        rng.uniform(6.0, 12.0, p), rng.uniform(1.5, 5.0, p),
    )  # fmt: skip


@dataclass(frozen=True)
class World:
    """A model and one truth of it. globals as BandModel.prior_sigma_db; path_db (p,)."""

    model: BandModel
    globals_db: FloatArray
    path_db: FloatArray

    @classmethod
    def drawn(cls, rng: np.random.Generator, model: BandModel, **offsets_db: float) -> World:
        """A truth from the priors. offsets_db : c3=-12 sets station 3's common offset."""
        g = rng.standard_normal(len(model.prior_sigma_db)) * model.prior_sigma_db
        n = len(model.call_signs)
        for name, value in offsets_db.items():
            part = "bcshr".index(name[0])
            g[0 if part == 0 else 1 + (part - 1) * n + int(name[1:])] = value
        return cls(model, g, rng.standard_normal(len(model.pairs)) * model.path_sigma_db)

    @property
    def margin_db(self) -> FloatArray:
        """(p, 2) true margins, the evening apart."""
        local = self.globals_db[self.model.local_globals()]
        both = (local @ functionals().T)[:, [0, 3]]
        return self.model.margin_db + both + self.path_db[:, np.newaxis]

    def reports(
        self,
        rng: np.random.Generator,
        nets: int,
        *,
        attend: float = 0.6,
        filed: float = 0.5,
        wrong: float = 0.03,
        plain_listeners: NDArray[np.bool_] | None = None,
        first_net: int = 0,
    ) -> list[Report]:
        """What is filed: of the stations that attend a net each pair's directions, a share of them filed."""
        model, truth = self.model, self.margin_db
        n = len(model.call_signs)
        rho = self.globals_db[1 + 3 * n : 1 + 4 * n]
        plain = np.zeros(n, dtype=np.bool_) if plain_listeners is None else plain_listeners
        found = []
        for net in range(first_net, first_net + nets):
            there = rng.random(n) < attend
            evening = rng.standard_normal(len(model.pairs)) * model.evening_sigma_db
            at = FIRST + datetime.timedelta(days=7 * net)
            for k in np.flatnonzero(there[model.pairs].all(axis=1)):
                for direction in range(2):
                    if rng.random() > filed:
                        continue
                    sender, listener = model.pairs[k, direction], model.pairs[k, 1 - direction]
                    f = truth[k, direction] + evening[k]
                    is_wrong = rng.random() < wrong
                    if plain[listener]:
                        heard = bool(f + 5.0 * rng.standard_normal() >= -5.0)
                        grade = None
                        if is_wrong:
                            heard = bool(rng.random() < 0.5)
                    else:
                        f = f + rho[listener] + np.hypot(4.0, 4.0) * rng.standard_normal()
                        r = int(np.searchsorted(EDGES_DB, f, side="right")) + 1
                        r = int(rng.integers(1, 6)) if is_wrong else r
                        heard, grade = r > 1, r if r > 1 else None
                    found.append(
                        Report(
                            at=at,
                            listener=model.call_signs[listener],
                            sender=model.call_signs[sender],
                            on="two metres",
                            outcome=Outcome.HEARD if heard else Outcome.NOT_HEARD,
                            readability=grade,
                            list_kind=ListKind.COMPLETE,
                        )
                    )
        return found

    def evidence(self, reports: list[Report]) -> Evidence:
        """The reports as the program reads them."""
        return evidence(reports, self.model, frequency_mhz=146.52, repeaters=(), zone=datetime.UTC)
