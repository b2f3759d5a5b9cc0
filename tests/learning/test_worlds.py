"""The fit on invented clubs of known truth: intervals hold, silence counts, faults are found.

The suite draws a few small clubs with fixed seeds; REACH_LONG=200 draws 200 large ones (seconds each) and
prints the figures.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import pytest

from reach.inputs.reports import ListKind, Outcome
from reach.learning.evidence import LeftOut
from reach.learning.fit import Observations, Posterior, fit, foretold, nothing_heard, on_prediction
from reach.learning.model import functionals
from reach.learning.trust import trust_in
from reach.learning.verdicts import Cause, verdicts
from tests.learning.world import World, invented_model

WORLDS = int(os.environ.get("REACH_LONG", "8"))
LONG = WORLDS > 8
STATIONS, NETS = (24, 20) if LONG else (14, 12)


@dataclass(frozen=True)
class Outcomes:
    """Errors in stated standard deviations, and in dB, of all links of all clubs."""

    in_sigmas: np.ndarray
    in_db: np.ndarray
    naive_db: np.ndarray
    predicted_db: np.ndarray


@lru_cache(maxsize=1)
def outcomes() -> Outcomes:
    rng = np.random.default_rng(20)
    columns: list[list[np.ndarray]] = [[], [], [], []]
    for _ in range(WORLDS):
        world = World.drawn(rng, invented_model(rng, STATIONS))
        reports = world.reports(rng, NETS, wrong=0.02)
        found = fit(world.model, world.evidence(reports).observations)
        heard_only = [r for r in reports if r.outcome is Outcome.HEARD]
        naive = fit(world.model, world.evidence(heard_only).observations)
        mean, covariance = found.links()
        sigma = np.sqrt(np.stack([covariance[:, 0, 0], covariance[:, 1, 1]], axis=1))
        off = mean - world.margin_db
        fair = np.abs(world.model.margin_db) < 12.0
        rows = (off / sigma, off[fair], (naive.links()[0] - world.margin_db)[fair])
        for column, values in zip(columns, (*rows, (world.model.margin_db - world.margin_db)[fair])):
            column.append(values.ravel())
    found = Outcomes(*(np.concatenate(column) for column in columns))
    held = [round(float((np.abs(found.in_sigmas) < s).mean()), 3) for s in (0.6745, 1.6449)]
    print(f"{WORLDS} clubs: 50 and 90 % intervals hold {held}")
    for name, errors in (("fit", found.in_db), ("naive", found.naive_db), ("predicted", found.predicted_db)):
        print(f"{name}: bias {errors.mean():+.2f} dB, rms {np.sqrt((errors**2).mean()):.2f} dB")
    return found


@pytest.mark.parametrize(("share", "sigmas"), [(0.5, 0.6745), (0.9, 1.6449)])
def test_stated_intervals_hold_what_they_say(share: float, sigmas: float) -> None:
    held = float((np.abs(outcomes().in_sigmas) < sigmas).mean())
    assert held == pytest.approx(share, abs=0.03 if LONG else 0.06)


def test_leaving_silence_out_flatters_and_this_fit_does_not() -> None:
    found = outcomes()
    assert found.naive_db.mean() > 4.0
    assert abs(found.in_db.mean()) < (0.7 if LONG else 1.5)


def test_links_are_known_better_than_predicted_and_than_naively() -> None:
    found = outcomes()
    error, naive, predicted = (
        np.sqrt((x**2).mean()) for x in (found.in_db, found.naive_db, found.predicted_db)
    )
    assert error < 0.65 * predicted
    assert error < 0.65 * naive


def found_faults(nets: int, *, clubs: int, filed: float) -> tuple[int, int, int, list[Cause]]:
    """Lossy lines found, deaf receivers found, healthy stations accused; the causes named for lossy ones."""
    lossy = deaf = accused = 0
    causes = []
    rng = np.random.default_rng(5)
    for _ in range(clubs):
        model = invented_model(rng, 20)
        world = World.drawn(rng, model, c0=-12.0, s0=0.0, h0=0.0, c1=0.0, s1=0.0, h1=-10.0)
        said = verdicts(fit(model, world.evidence(world.reports(rng, nets, filed=filed)).observations))
        names = {verdict.total.call_sign: verdict.cause for verdict in said}
        lossy += model.call_signs[0] in names
        deaf += model.call_signs[1] in names
        causes += [names[model.call_signs[0]]] if model.call_signs[0] in names else []
        n = len(model.call_signs)
        sends = world.globals_db[1 : 1 + n] + world.globals_db[1 + n : 1 + 2 * n]
        hears = world.globals_db[1 : 1 + n] + world.globals_db[1 + 2 * n : 1 + 3 * n]
        accused += sum(
            call in names
            for k, call in enumerate(model.call_signs)
            if k > 1 and min(sends[k], hears[k]) > -2.0
        )
    return lossy, deaf, accused, causes


def test_a_lossy_line_is_found_soon_and_a_deaf_receiver_mostly() -> None:
    clubs = 20 if LONG else 4
    lossy, deaf, accused, causes = found_faults(10, clubs=clubs, filed=0.95)
    print(f"of {clubs}: lossy lines {lossy}, deaf receivers {deaf}, healthy ones accused {accused}")
    print(f"named as weak both ways: {causes.count(Cause.SITE)} of {len(causes)}")
    assert lossy >= 0.9 * clubs
    assert deaf >= (0.45 * clubs if LONG else 1)
    assert accused <= 0.2 * clubs
    assert causes.count(Cause.SITE) >= 0.7 * len(causes)


def test_other_nets_foretell_a_net_better_than_the_prediction_does() -> None:
    rng = np.random.default_rng(9)
    world = World.drawn(rng, invented_model(rng, 18), b0=-4.0)
    evidence = world.evidence(world.reports(rng, 20))
    trust = trust_in(evidence, fit(world.model, evidence.observations))
    assert trust.after.brier < 0.7 * trust.before.brier < 0.7 * trust.mean_rate_brier * 1.2
    print(f"log score {trust.before.log_score:.3f} predicted, {trust.after.log_score:.3f} corrected")
    assert trust.after.log_score > 0.72 * trust.before.log_score
    assert trust.after.right > trust.before.right + 0.05
    assert trust.error_mean_db < -1.0
    for one in trust.after.bins:
        assert one.reports >= 30
        assert abs(one.seen - one.foretold) < 0.12


def log_score(found: Posterior, seen: Observations) -> float:
    """Mean log of the chance of each report as it came."""
    says = on_prediction(found.model, seen)
    return float(np.log(says.chance(*foretold(found, seen))).mean())


def log_score_of_truth(world: World, seen: Observations) -> float:
    """The same for one who knows every station and path, and only the evening not: nothing can do better."""
    local = world.globals_db[world.model.local_globals()[seen.pair]]
    stray = (local * functionals()[seen.functional]).sum(axis=1) + world.path_db[seen.pair]
    says = on_prediction(world.model, seen)
    return float(np.log(says.chance(stray, world.model.evening_sigma_db[seen.pair] ** 2)).mean())


def later_scores(*, plain: bool) -> tuple[float, float, float]:
    """Ten nets after twenty that were fitted, three clubs: as predicted, corrected, the truth known."""
    rng = np.random.default_rng(31)
    rows = []
    for _ in range(3):
        world = World.drawn(rng, invented_model(rng, 24))
        listeners = np.full(24, plain)
        before = world.reports(rng, 20, filed=0.95, plain_listeners=listeners)
        after = world.reports(rng, 10, filed=0.95, plain_listeners=listeners, first_net=20)
        seen = world.evidence(after).observations
        found = fit(world.model, world.evidence(before).observations)
        bare = nothing_heard(world.model)
        rows.append((log_score(bare, seen), log_score(found, seen), log_score_of_truth(world, seen)))
    bare_score, corrected, truth = np.mean(rows, axis=0).tolist()
    print(f"plain {plain}: {bare_score:.3f} predicted, {corrected:.3f} corrected, {truth:.3f} truth known")
    return bare_score, corrected, truth


@pytest.mark.parametrize("plain", [False, True], ids=["grades", "heard or not"])
def test_twenty_nets_teach_most_of_what_there_is_to_know(plain: bool) -> None:
    bare, corrected, truth = later_scores(plain=plain)
    assert corrected < truth
    assert corrected - bare > 0.8 * (truth - bare)


def test_heard_or_not_is_foretold_better_than_predicted_by_a_third() -> None:
    bare, corrected, _ = later_scores(plain=True)
    assert corrected > 2.0 / 3.0 * bare


def test_a_list_of_those_heard_only_is_left_out_and_proves_the_call() -> None:
    rng = np.random.default_rng(2)
    world = World.drawn(rng, invented_model(rng, 6))
    reports = world.reports(rng, 3, attend=1.0, filed=1.0)
    logs = [replace(r, list_kind=ListKind.HEARD_ONLY) for r in reports if r.outcome is Outcome.HEARD]
    evidence = world.evidence(logs)
    assert not evidence.facts
    assert evidence.left_out == {LeftOut.HEARD_ONLY: len(logs)}
    assert nothing_heard(world.model).links()[0] == pytest.approx(world.model.margin_db)


def test_a_wrong_path_spread_is_noticed() -> None:
    def scale(true_over_stated: float) -> float:
        rng = np.random.default_rng(3)
        model = invented_model(rng, 16)
        world = World.drawn(rng, replace(model, path_sigma_db=true_over_stated * model.path_sigma_db))
        found: Posterior = fit(model, world.evidence(world.reports(rng, 20)).observations)
        return found.path_scale

    assert scale(1.4) > 1.15 > 1.0 > 0.9 > scale(0.7)
