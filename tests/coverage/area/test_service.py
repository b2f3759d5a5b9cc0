"""Margins and chance of whole areas against the link budget of single links."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from reach.coverage.area.service import (
    AreaService,
    StationKind,
    area_path,
    area_readability,
    area_service,
    repeater_hub,
    station_hub,
    usual_station,
)
from reach.coverage.area.summary import cell_of, summarise
from reach.coverage.sweep.loss import Clearance, area_loss
from reach.geodesy import destination
from reach.links.budget import link_budget
from reach.links.ends import repeater_end, station_end
from reach.links.grade import Grade, readability_of
from reach.links.receiver import WIDE
from reach.links.spread import site_sigma_db, time_sigma_db
from reach.propagation.path_kind import kind_sigma_db
from reach.propagation.typical_land.model import Cover
from reach.propagation.variability import SigmaParts
from reach.stations import (
    Aim,
    Antenna,
    Beam,
    Category,
    Channel,
    Land,
    Net,
    NoiseEnvironment,
    Position,
    Repeater,
    Station,
    Surrounding,
)
from tests.coverage.conftest import SEA_SITE, grid_of, ground_of

REPEATER = Repeater("QK3RA", "hill", SEA_SITE, 146.94, 146.34, Antenna(25.0, 6.0), 47.0)
NET = Net("invented", (Channel("two", 146.52),), (REPEATER,), (), noise=NoiseEnvironment.RESIDENTIAL)


@pytest.mark.parametrize("kind", list(StationKind))
def test_margins_and_chance_are_those_of_the_link_budget(kind: StationKind) -> None:
    grid = grid_of(ground_of("rough", 150))
    hub, station = repeater_hub(REPEATER, NET), usual_station(kind)
    loss = area_loss(grid, area_path(hub, station, k_factor=4 / 3), Clearance.COMPUTE)
    assert loss.kind is not None
    found = area_service(loss, hub, station, net_noise=NET.noise)
    assert math.isclose(loss.path.frequency_mhz, math.sqrt(146.94 * 146.34))
    for cell in [(10, 150), (150, 20), (90, 200), (155, 155)]:
        distance_m = float(grid.distance_m()[cell])
        parts, shares = [], []
        for frequency, inward, got in (
            (146.34, True, found.talk_in_margin_db[cell]),
            (146.94, False, found.talk_out_margin_db[cell]),
        ):
            own = station_end(station, frequency_mhz=frequency, net_noise=NET.noise)
            other = repeater_end(REPEATER, frequency_mhz=frequency, net_noise=NET.noise)
            path_loss_db = float(loss.loss_db[cell]) + 20.0 * math.log10(frequency / loss.path.frequency_mhz)
            tx, rx = (own, other) if inward else (other, own)
            budget = link_budget(
                tx=tx, rx=rx, path_loss_db=path_loss_db, frequency_mhz=frequency, mode=WIDE, sigma_db=1.0
            )
            assert got == pytest.approx(budget.margin_db, abs=1e-3)
            air_db = time_sigma_db(
                distance_m=distance_m, frequency_mhz=frequency,
                tx_effective_height_m=station.antenna.height_m, rx_effective_height_m=25.0,
                margin_db=budget.margin_db, line_of_sight=False,
            )  # fmt: skip
            sites_db = (site_sigma_db(station, Cover.USUAL), site_sigma_db(REPEATER, Cover.USUAL))
            tx_db, rx_db = sites_db if inward else sites_db[::-1]
            path_db = float(kind_sigma_db(loss.kind[cell]))
            parts.append(SigmaParts(path_db, tx_db, rx_db, float(air_db), rx.noise_sigma_db))
            shares.append(budget.margin_db / float(parts[-1].total_db))
        correlation = float(parts[0].correlation_with_reverse(parts[1]))
        both = multivariate_normal([0.0, 0.0], [[1.0, correlation], [correlation, 1.0]]).cdf(shares)
        assert found.chance[cell] == pytest.approx(both, abs=2e-3)
        assert both <= min(norm.cdf(shares))


def test_kinds_have_the_equipment_people_expect() -> None:
    handheld, mobile, base = (usual_station(kind) for kind in StationKind)
    assert (handheld.antenna.height_m, mobile.antenna.height_m, base.antenna.height_m) == (1.5, 2.0, 9.0)
    assert handheld.transmit_power_dbm == pytest.approx(37.0, abs=0.1)
    assert mobile.transmit_power_dbm == base.transmit_power_dbm == pytest.approx(47.0, abs=0.1)
    assert handheld.antenna.gain_dbi_at(146.0) < 0.0 < base.antenna.gain_dbi_at(146.0)


def test_more_noise_takes_from_talk_out_only() -> None:
    grid = grid_of(ground_of("rough", 60))
    hub = repeater_hub(REPEATER, NET)
    station = usual_station(StationKind.HANDHELD)
    loss = area_loss(grid, area_path(hub, station, k_factor=4 / 3), Clearance.COMPUTE)
    quiet = area_service(loss, hub, station, net_noise=NET.noise)
    noisy = area_service(loss, hub, replace(station, noise=NoiseEnvironment.CITY), net_noise=NET.noise)
    assert np.array_equal(quiet.talk_in_margin_db, noisy.talk_in_margin_db, equal_nan=True)
    drop = quiet.talk_out_margin_db - noisy.talk_out_margin_db
    assert np.nanmin(drop) > 0.5 and np.nanmax(drop) < 10.0


def test_member_as_hub_works_both_ways_on_one_frequency() -> None:
    member = Station("QK3AA", "a", SEA_SITE, Category.BASE, Antenna(9.0, 2.15), 47.0)
    hub = station_hub(member, NET.channels[0], NET)
    assert hub.input_mhz == hub.output_mhz == 146.52
    twin = replace(member, call_sign="QK3AB")
    grid = grid_of(ground_of("smooth", 60))
    found = area_service(
        area_loss(grid, area_path(hub, twin, k_factor=4 / 3), Clearance.COMPUTE),
        hub,
        twin,
        net_noise=NET.noise,
    )
    assert np.allclose(found.talk_in_margin_db, found.talk_out_margin_db, equal_nan=True)


def test_readability_of_an_area_is_that_of_its_margins() -> None:
    margin = np.float32([-20.0, -5.0, -4.99, -0.01, 0.0, 2.99, 3.0, 7.99, 8.0, 40.0, np.nan])
    assert area_readability(margin).tolist() == readability_of(margin).tolist()


def test_summary_counts_cells_sectors_and_members() -> None:
    radius = 100
    ground = np.full((2 * radius + 1, 2 * radius + 1), 20.0, np.float32)
    ground[:, radius + 4 : radius + 7] = 900.0  # a wall to the east
    grid = grid_of(ground, cell_m=200.0)
    hub, station = (
        repeater_hub(replace(REPEATER, transmit_power_dbm=30.0), NET),
        usual_station(StationKind.HANDHELD),
    )
    service = area_service(
        area_loss(grid, area_path(hub, station, k_factor=4 / 3), Clearance.COMPUTE),
        hub,
        station,
        net_noise=NET.noise,
    )

    def member(call: str, bearing: float, distance_m: float, category: Category = Category.BASE) -> Station:
        lat, lon = destination(
            latitude_deg=SEA_SITE.latitude_deg, longitude_deg=SEA_SITE.longitude_deg,
            bearing_deg=bearing, distance_m=distance_m,
        )  # fmt: skip
        return Station(call, call, Position(float(lat), float(lon)), category, Antenna(9.0, 2.0), 47.0)

    roster = [
        member("QK3EAST", 90.0, 15_000.0),
        member("QK3WEST", 270.0, 6_000.0),
        member("QK3FAR", 0.0, 90_000.0),
        member("QK3NET", 0.0, 100.0, Category.INTERNET),
    ]
    figures = summarise(service, roster)
    known = grid.inside()
    served = known & (service.weaker_margin_db >= 0.0)
    assert figures.served_km2 == pytest.approx(served.sum() * 0.04)
    assert figures.circle_km2 == pytest.approx(known.sum() * 0.04)
    assert sum(area for _, area in figures.grade_km2) == pytest.approx(figures.circle_km2)
    parts = (
        figures.served_km2, figures.hears_only_km2, figures.heard_only_km2, figures.neither_km2,
    )  # fmt: skip
    assert sum(parts) == pytest.approx(figures.land_km2) == pytest.approx(figures.circle_km2)
    heard = service.talk_in_margin_db >= 0.0
    hears = service.talk_out_margin_db >= 0.0
    assert figures.hears_only_km2 == pytest.approx((known & hears & ~heard).sum() * 0.04)
    assert figures.heard_only_km2 == pytest.approx((known & heard & ~hears).sum() * 0.04)
    assert figures.sea_km2 == figures.served_sea_km2 == 0.0
    assert figures.unknown_share == 0.0
    assert figures.worst is not None and figures.best is not None
    assert 40.0 <= figures.worst.bearing_deg <= 140.0
    assert figures.best.bearing_deg >= 180.0 or figures.best.bearing_deg == 0.0
    assert [(place.call_sign, place.served) for place in figures.places] == [
        ("QK3EAST", False), ("QK3WEST", True), ("QK3FAR", None),
    ]  # fmt: skip
    assert figures.roster_share == 0.5
    assert cell_of(grid, roster[0]) == (radius, radius + 75)
    assert Grade.NONE in dict(figures.grade_km2)


def test_sea_is_counted_apart_and_the_hub_is_not_its_own_member() -> None:
    ground = np.full((81, 81), 20.0, np.float32)
    ground[:, :30] = 0.0
    ground[:10, 60:] = np.nan
    grid = grid_of(ground, cell_m=100.0)
    member = Station("QK3AA", "a", SEA_SITE, Category.BASE, Antenna(9.0, 2.15), 47.0)
    hub = station_hub(member, NET.channels[0], NET)
    loss = area_loss(grid, area_path(hub, member, k_factor=4 / 3), Clearance.COMPUTE)
    service = area_service(loss, hub, member, net_noise=NET.noise)
    figures = summarise(service, [member])
    known = grid.inside() & ~np.isnan(service.chance)
    assert figures.places == ()
    assert figures.sea_km2 == pytest.approx(known[:, :30].sum() * 0.01)
    assert figures.served_km2 == figures.land_km2 == pytest.approx(known[:, 30:].sum() * 0.01)
    assert figures.served_sea_km2 == figures.sea_km2 and figures.served_share == 1.0
    assert figures.unknown_share > 0.0
    nowhere = summarise(service, [member], land=np.zeros_like(known))
    assert nowhere.land_km2 == 0.0 and np.isnan(nowhere.served_share) and nowhere.best is None


def test_an_area_sees_where_the_hub_points() -> None:
    grid = grid_of(ground_of("rough", 60))
    looks_east = replace(REPEATER, antenna=Antenna(25.0, 10.0, "5-element yagi", beam=Beam(Aim.FIXED, 90.0)))
    turns = replace(looks_east, antenna=replace(looks_east.antenna, beam=Beam(Aim.TURNS)))
    handheld = usual_station(StationKind.HANDHELD)

    def served(repeater: Repeater) -> AreaService:
        hub = repeater_hub(repeater, NET)
        loss = area_loss(grid, area_path(hub, handheld, k_factor=4 / 3), Clearance.COMPUTE)
        return area_service(loss, hub, handheld, net_noise=NET.noise)

    fixed, best = served(looks_east), served(turns)
    middle = grid.radius_cells
    for way in ("talk_in_margin_db", "talk_out_margin_db"):
        lost_db = getattr(best, way) - getattr(fixed, way)
        assert lost_db[middle, -1] == pytest.approx(0.0, abs=1e-3)
        assert lost_db[middle, 0] == pytest.approx(18.0, abs=1e-3)  # -8 dBi behind: F.1336 (from memory)
        assert lost_db[0, middle] == pytest.approx(14.0, abs=1e-3)  # between 1.08 and 1.9 widths beside it
        known = np.isfinite(lost_db)
        assert lost_db[known].min() >= -1e-3 and lost_db[known].max() <= 18.001


def test_woodland_round_a_station_in_the_cells_counts_once() -> None:
    """The path holds it already: it is no loss of the station's own besides."""
    grid = grid_of(ground_of("smooth", 60))
    hub, plain = repeater_hub(REPEATER, NET), usual_station(StationKind.BASE)

    def margin_db(station: Station) -> np.ndarray:
        loss = area_loss(grid, area_path(hub, station, k_factor=4 / 3), Clearance.COMPUTE)
        return area_service(loss, hub, station, net_noise=NET.noise).talk_in_margin_db

    in_trees = margin_db(replace(plain, land=Land.TREES))
    woodland = margin_db(replace(plain, surroundings=(Surrounding.WOODLAND,)))
    assert np.array_equal(in_trees, woodland, equal_nan=True)
