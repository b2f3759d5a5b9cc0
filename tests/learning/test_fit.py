"""The fit on small clubs. Values: the model solved apart, loop by loop, and by quadrature where marked."""

from __future__ import annotations

import numpy as np
import pytest

from reach.learning.fit import (
    Observations,
    Posterior,
    fit,
    foretold,
    nothing_heard,
    on_prediction,
    without_net,
)
from reach.learning.likelihood import (
    METER_DB,
    Likelihoods,
    Says,
    graded,
    heard,
    metered,
    not_heard,
    silent,
)
from reach.learning.model import BandModel

PLAIN, GRADED, METER = 0, 1, 2
TIGHT = 1e-12


def bases(count: int, *, margin_db: float = 0.0) -> BandModel:
    pairs = np.array([(i, j) for i in range(count) for j in range(i + 1, count)], dtype=np.int64)
    ones = np.ones(count)
    two = np.full((len(pairs), 2), margin_db)
    return BandModel(
        tuple(f"QK{i + 1}A" for i in range(count)),
        3.2 * ones, 1.5 * ones, 3.4 * ones, 2.0 * ones, 10.0 * ones,
        pairs, two, two - 100.0, np.full(len(pairs), 8.5), np.full(len(pairs), 2.4),
    )  # fmt: skip


Row = tuple[int, int, int, Says, int]


def observed(model: BandModel, rows: list[Row]) -> Observations:
    """rows : (sender, listener, kind, says, net), stations from 0."""
    number = {tuple(pair): k for k, pair in enumerate(model.pairs.tolist())}
    pair = [number[min(a, b), max(a, b)] for a, b, *_ in rows]
    return Observations(
        np.array(pair, dtype=np.int64),
        np.array([3 * (a > b) + kind for a, b, kind, *_ in rows], dtype=np.int64),
        np.array([net for *_, net in rows], dtype=np.int64),
        Likelihoods.of([says for *_, says, _ in rows]),
    )


def fitted(rows: list[Row], *, model: BandModel | None = None) -> Posterior:
    model = model or bases(2)
    return fit(model, observed(model, rows), settled=TIGHT, most_rounds=400)


def link(found: Posterior, sender: int, listener: int) -> tuple[float, float]:
    mean, covariance = found.links()
    at = found.model.pairs.tolist().index([min(sender, listener), max(sender, listener)])
    d = int(sender > listener)
    return float(mean[at, d]), float(covariance[at, d, d] ** 0.5)


def test_without_reports_the_spread_is_the_prior() -> None:
    assert link(nothing_heard(bases(2)), 0, 1) == pytest.approx((0.0, 11.0698), abs=1e-3)


def test_one_grade() -> None:
    found = fitted([(0, 1, GRADED, graded(4), 0)])
    assert link(found, 0, 1) == pytest.approx((3.8804, 6.0617), abs=1e-3)  # quadrature
    assert link(found, 1, 0) == pytest.approx((3.4430, 7.4157), abs=1e-3)
    b, c1, s1, h2, rho2 = found.mean[[0, 1, 3, 6, 8]]
    assert (b, c1, s1, h2, rho2) == pytest.approx((0.5067, 0.3243, 0.0712, 0.3661, 0.1267), abs=1e-3)


@pytest.mark.parametrize(
    ("said", "there", "back"),
    [
        (heard(), (5.4131, 8.4619), (4.8030, 9.0795)),
        (not_heard(), (-10.1474, 7.7541), (-9.0038, 8.5675)),
    ],
)
def test_heard_and_not_heard(said: Says, there: tuple[float, float], back: tuple[float, float]) -> None:
    found = fitted([(0, 1, PLAIN, said, 0)])
    assert link(found, 0, 1) == pytest.approx(there, abs=1e-3)
    assert link(found, 1, 0) == pytest.approx(back, abs=1e-3)


def test_three_evenings_of_silence() -> None:
    found = fitted([(0, 1, PLAIN, not_heard(), net) for net in range(3)], model=bases(2, margin_db=10.0))
    assert link(found, 0, 1) == pytest.approx((-11.5139, 5.1380), abs=1e-3)
    assert link(found, 1, 0) == pytest.approx((-9.0893, 6.8445), abs=1e-3)


def test_two_evenings_say_more_than_two_reports_of_one() -> None:
    apart = fitted([(0, 1, GRADED, graded(4), net) for net in range(2)])
    assert link(apart, 0, 1) == pytest.approx((4.5716, 4.5500), abs=1e-3)
    assert link(apart, 1, 0) == pytest.approx((4.0564, 6.5087), abs=1e-3)
    together = fitted([(0, 1, GRADED, graded(4), 0)] * 2)
    assert link(together, 0, 1) == pytest.approx((4.4892, 4.7469), abs=1e-3)


def test_one_way_only_is_noise_where_nothing_is_heard() -> None:
    found = fitted([(0, 1, GRADED, graded(5), 0), (1, 0, PLAIN, not_heard(), 0)])
    assert link(found, 0, 1) == pytest.approx((3.6219, 10.4671), abs=1e-3)
    assert link(found, 1, 0) == pytest.approx((-0.2135, 10.5982), abs=1e-3)
    assert found.mean[[5, 6]] == pytest.approx([-1.5201, 1.6904], abs=1e-3)


def test_a_full_meter_is_one_sided() -> None:
    says = metered(-100.0 + 30.0, np.inf, bars=9, sigma_db=METER_DB)
    found = fitted([(0, 1, METER, says, 0)])
    assert link(found, 0, 1) == pytest.approx((14.8096, 10.5590), abs=1e-3)
    assert found.mean[10] == pytest.approx(13.3443, abs=1e-3)


DEAF_ONE: list[Row] = [
    (1, 0, PLAIN, not_heard(), 0), (2, 0, PLAIN, not_heard(), 0),
    (0, 1, GRADED, graded(4), 0), (0, 2, GRADED, graded(4), 0),
    (1, 2, GRADED, graded(4), 0), (2, 1, GRADED, graded(4), 0),
]  # fmt: skip


def test_three_bases_of_which_one_hears_nothing() -> None:
    found = fitted(DEAF_ONE, model=bases(3, margin_db=5.0))
    assert link(found, 0, 1) == pytest.approx((1.0058, 5.5970), abs=1e-3)
    assert link(found, 1, 0) == pytest.approx((-4.6663, 5.8730), abs=1e-3)
    assert link(found, 1, 2) == pytest.approx((4.7876, 5.0763), abs=1e-3)
    assert found.mean[[7, 1, 4]] == pytest.approx([-3.5408, -0.9219, 0.4866], abs=1e-3)


def test_stations_renumbered_give_the_same() -> None:
    model = bases(3, margin_db=5.0)
    turned = [(2 - a, 2 - b, *rest) for a, b, *rest in DEAF_ONE]
    found, other = fitted(DEAF_ONE, model=model), fitted(turned, model=model)
    for a in range(3):
        for b in set(range(3)) - {a}:
            assert link(found, a, b) == pytest.approx(link(other, 2 - a, 2 - b), abs=1e-9)


def test_silence_on_a_list_of_those_heard_says_less() -> None:
    found = fitted([(0, 1, PLAIN, silent(0.7), 0)])
    assert link(found, 0, 1) == pytest.approx((-4.5319, 10.9597), abs=1e-3)


def test_leaving_a_net_out() -> None:
    model = bases(2)
    seen = observed(model, [(0, 1, GRADED, graded(4), net) for net in range(2)])
    found = fit(model, seen, settled=TIGHT, most_rounds=400)
    assert link(without_net(found, seen, 1), 0, 1) == pytest.approx((4.0038, 5.7750), abs=1e-3)
    empty = without_net(without_net(found, seen, 1), seen, 0)
    assert link(empty, 0, 1) == pytest.approx((0.0, 11.0698), abs=1e-3)
    one = observed(model, [(0, 1, GRADED, graded(4), 0)])
    alone = without_net(fit(model, one), one, 0)
    assert link(alone, 0, 1) == pytest.approx((0.0, 11.0698), abs=1e-3)


def test_chances_of_the_next_evening() -> None:
    model = bases(2)
    found = fitted([(0, 1, GRADED, graded(4), 0)])
    nxt = observed(model, [(0, 1, GRADED, graded(r), 1) for r in range(1, 6)])
    mean, variance = foretold(found, nxt)
    chances = on_prediction(model, nxt).chance(mean, variance)
    assert chances == pytest.approx([0.14722, 0.17453, 0.13569, 0.22625, 0.31631], abs=1e-3)
    assert chances.sum() == pytest.approx(1.0, abs=1e-9)


def test_a_station_heard_often_is_known() -> None:
    few = fitted([(0, 1, GRADED, graded(4), net) for net in range(2)])
    many = fitted([(0, 1, GRADED, graded(4), net) for net in range(40)])
    assert link(few, 0, 1)[1] > 4.0
    assert link(many, 0, 1)[1] < 2.2
