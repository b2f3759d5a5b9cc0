"""Simulated check-ins against cases that can be worked out."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest

from reach.links.network import SimplexNetwork
from reach.plans.relays.forecast import forecast_check_ins
from reach.plans.relays.plan import plan_relays
from tests.plans.synthetic import call, linked, network_of

EVENINGS = 20_000
TOLERANCE = 4.0 * math.sqrt(0.25 / EVENINGS)  # four standard errors of a share


def with_parts(
    network: SimplexNetwork, *, path: float, site: float, receive: float, time: float
) -> SimplexNetwork:
    n = len(network.call_signs)
    return replace(
        network,
        path_sigma_db=np.full((n, n), path),
        station_sigma_db=np.full(n, site),
        receive_sigma_db=np.full(n, receive),
        time_sigma_db=np.full((n, n), time),
        sigma_db=np.full((n, n), math.sqrt(path**2 + 2 * site**2 + receive**2 + time**2)),
    )


def star(leaves: int, margin_db: float) -> SimplexNetwork:
    margins = np.full((leaves + 1, leaves + 1), -60.0)
    margins[0, :] = margins[:, 0] = margin_db
    return network_of(margins)


def test_one_link_works_as_often_as_its_margin_says() -> None:
    network = with_parts(star(1, 4.0), path=3.0, site=2.0, receive=0.0, time=4.0)
    forecast = forecast_check_ins(plan_relays(network, control=call(0)), network, seed=1, evenings=EVENINGS)
    sigma = math.sqrt(9.0 + 2 * 4.0 + 16.0)
    assert forecast.chance[call(1)] == pytest.approx(NormalDist().cdf(4.0 / sigma), abs=TOLERANCE)


def test_directions_fail_apart_by_receiver_noise_only() -> None:
    network = with_parts(star(1, 3.0), path=0.0, site=0.0, receive=3.0, time=0.0)
    forecast = forecast_check_ins(plan_relays(network, control=call(0)), network, seed=1, evenings=EVENINGS)
    assert forecast.chance[call(1)] == pytest.approx(NormalDist().cdf(1.0) ** 2, abs=TOLERANCE)


def test_losses_at_the_control_site_hit_everyone_together() -> None:
    """With all spread at net control's site either everyone checks in or nobody does."""
    network = with_parts(star(10, 2.0), path=0.0, site=0.0, receive=0.0, time=0.0)
    site = np.zeros(11)
    site[0] = 4.0
    network = replace(network, station_sigma_db=site)
    forecast = forecast_check_ins(plan_relays(network, control=call(0)), network, seed=7, evenings=EVENINGS)
    works = NormalDist().cdf(0.5)
    assert forecast.direct.expected == pytest.approx(10 * works, abs=10 * TOLERANCE)
    assert (forecast.direct.low, forecast.direct.high) == (0.0, 10.0)


def test_independent_paths_spread_as_a_binomial() -> None:
    network = with_parts(star(40, 2.0), path=4.0, site=0.0, receive=0.0, time=0.0)
    forecast = forecast_check_ins(plan_relays(network, control=call(0)), network, seed=7, evenings=EVENINGS)
    works = NormalDist().cdf(0.5)
    share, total = 0.0, 0
    below = [0.0]
    for heard in range(41):
        share += math.comb(40, heard) * works**heard * (1 - works) ** (40 - heard)
        below.append(share)
        total += heard
    low = next(heard for heard in range(41) if below[heard + 1] >= 0.1)
    high = next(heard for heard in range(41) if below[heard + 1] >= 0.9)
    assert (forecast.direct.low, forecast.direct.high) == (low, high)
    assert forecast.direct.expected == pytest.approx(40 * works, abs=40 * TOLERANCE / 4)


def test_a_relayed_station_needs_both_hops_and_a_second_relay_helps() -> None:
    margins = np.full((4, 4), -60.0)
    for a, b in ((0, 1), (1, 3), (0, 2), (2, 3)):
        margins[a, b] = margins[b, a] = 2.0
    network = with_parts(network_of(margins), path=4.0, site=0.0, receive=0.0, time=0.0)
    plan = plan_relays(network, control=call(0))
    assert plan.relayed[0].second == (call(2),)
    forecast = forecast_check_ins(plan, network, seed=3, evenings=EVENINGS)
    hop = NormalDist().cdf(0.5)
    assert forecast.direct.expected == pytest.approx(2 * hop, abs=2 * TOLERANCE)
    assert forecast.first_ways.expected == pytest.approx(2 * hop + hop**2, abs=3 * TOLERANCE)
    assert forecast.chance[call(3)] == pytest.approx(1 - (1 - hop**2) ** 2, abs=TOLERANCE)


def test_the_same_seed_gives_the_same_forecast() -> None:
    network = linked(6, [(0, k) for k in range(1, 5)] + [(4, 5)])
    plan = plan_relays(network, control=call(0))
    first, again, other = (forecast_check_ins(plan, network, seed=s, evenings=3000) for s in (5, 5, 6))
    assert first == again
    assert first.chance != other.chance
    assert "of 5 check-ins with the relays" in first.sentence
    assert "the same every week" in first.sentence


def test_it_wants_the_parts_of_the_spread() -> None:
    network = replace(linked(3, [(0, 1), (1, 2)]), time_sigma_db=None)
    with pytest.raises(ValueError, match="without the parts of its spread"):
        forecast_check_ins(plan_relays(network, control=call(1)), network, seed=1)


@pytest.mark.parametrize(("lasting_db", "evening_db"), [(4.0, 0.0), (0.0, 4.0), (4.0, 3.0)])
def test_what_nobody_knows_is_the_same_every_week(lasting_db: float, evening_db: float) -> None:
    """A lone link at margin 0: two evenings differ only by the air's share of the doubt, arccos(rho) / pi."""
    network = with_parts(star(1, 0.0), path=lasting_db, site=0.0, receive=0.0, time=evening_db)
    forecast = forecast_check_ins(plan_relays(network, control=call(0)), network, seed=2, evenings=EVENINGS)
    rho = lasting_db**2 / (lasting_db**2 + evening_db**2)
    assert forecast.chance[call(1)] == pytest.approx(0.5, abs=TOLERANCE)
    differ = math.acos(rho) / math.pi  # normal pair of correlation rho, signs unlike
    assert forecast.changes[call(1)] == pytest.approx(differ, abs=TOLERANCE)
    # of one link heard or not: the variance between two evenings is half the share that differs
    assert forecast.direct.from_evening_to_evening == pytest.approx(
        math.sqrt(differ / 2.0), abs=2 * TOLERANCE
    )


def attending(network: SimplexNetwork, shares: dict[int, float]) -> SimplexNetwork:
    stations = tuple(
        replace(member, attendance=shares.get(number)) for number, member in enumerate(network.net.stations)
    )
    return replace(network, net=replace(network.net, stations=stations))


def test_who_is_not_there_is_not_heard() -> None:
    network = with_parts(star(3, 30.0), path=1.0, site=0.0, receive=0.0, time=0.0)
    network = attending(network, {1: 0.0, 2: 0.25})
    forecast = forecast_check_ins(plan_relays(network, control=call(0)), network, seed=1, evenings=EVENINGS)
    assert forecast.chance[call(1)] == 0.0
    assert forecast.chance[call(2)] == pytest.approx(0.25, abs=TOLERANCE)
    assert forecast.chance[call(3)] == pytest.approx(1.0, abs=1e-3)
    assert forecast.all_ways.expected == pytest.approx(1.25, abs=2 * TOLERANCE)
    assert forecast.with_attendance == 2
    assert "how often 2 are there" in forecast.sentence


def test_a_relay_that_is_away_takes_those_behind_it_along() -> None:
    """0 - 1 - 2 in a row: 2 is heard when both 1 and 2 are there."""
    margins = np.full((3, 3), -60.0)
    for a, b in ((0, 1), (1, 2)):
        margins[a, b] = margins[b, a] = 30.0
    network = attending(network_of(margins), {1: 0.5, 2: 0.5})
    forecast = forecast_check_ins(plan_relays(network, control=call(0)), network, seed=1, evenings=EVENINGS)
    assert forecast.chance[call(1)] == pytest.approx(0.5, abs=TOLERANCE)
    assert forecast.chance[call(2)] == pytest.approx(0.25, abs=TOLERANCE)


def test_attendance_of_all_changes_no_draw() -> None:
    network = with_parts(star(5, 3.0), path=3.0, site=2.0, receive=1.0, time=2.0)
    plan = plan_relays(network, control=call(0))
    always = attending(network, dict.fromkeys(range(6), 1.0))
    assert (
        forecast_check_ins(plan, always, seed=3, evenings=500).chance
        == forecast_check_ins(plan, network, seed=3, evenings=500).chance
    )
