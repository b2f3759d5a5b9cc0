"""Whom each cell reaches: against single paths worked one by one, bit for bit, over invented ground."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from reach.coverage.area.service import area_path, area_service, station_hub
from reach.coverage.search.grid import MARGIN_CELLS, SearchGrid
from reach.coverage.search.member_layer import (
    SLACK_DB,
    LeftAside,
    MemberLayer,
    SiteChannels,
    loss_cells,
    member_hub,
    member_layer,
    spare_cells,
)
from reach.coverage.sweep.grid import site_crs
from reach.coverage.sweep.loss import Clearance, area_loss
from reach.coverage.sweep.path import AreaModel, AreaPath
from reach.errors import MissingTerrain, OutOfRange
from reach.geodesy import destination
from reach.links.budget import link_budget
from reach.links.ends import station_end
from reach.links.receiver import fm_mode
from reach.plans.graph.reachability import ChanceThreshold, ReadabilityThreshold
from reach.propagation.choose import choose_model
from reach.stations import Antenna, Category, Channel, FeedLine, Net, Polarisation, Position, Station
from reach.terrain.profile import Profile, ProfileBatch
from tests.coverage.conftest import SEA_SITE, ground_of
from tests.coverage.sweep.test_loss import bilinear

TWO_METRES = Channel("two metres", 146.52)
SEVENTY = Channel("seventy", 446.0)
SIMPLEX = SiteChannels(TWO_METRES, TWO_METRES)
RULE = ReadabilityThreshold(3)


def place(east_m: float, north_m: float) -> Position:
    latitude, longitude = destination(
        latitude_deg=SEA_SITE.latitude_deg,
        longitude_deg=SEA_SITE.longitude_deg,
        bearing_deg=math.degrees(math.atan2(east_m, north_m)),
        distance_m=math.hypot(east_m, north_m),
    )
    return Position(float(latitude), float(longitude))


def member(call: str, east_m: float, north_m: float, **changes: object) -> Station:
    made = Station(
        call_sign=call,
        name="",
        position=place(east_m, north_m),
        category=Category.BASE,
        antenna=Antenna(6.0, 2.0),
        transmit_power_dbm=7.0,  # 5 mW, so that a few kilometres of rough ground decide
        feed_line=FeedLine(fixed_loss_db=1.5),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


MEMBERS = (
    member("QK1A", -3110.0, 2487.0),
    member("QK1B", 1713.0, -2904.0, transmit_power_dbm=10.0, sensitivity_dbm=-118.0),
    member("QK1H", 96.0, 211.0, category=Category.PORTABLE, antenna=Antenna(1.5, -5.0)),
    member("QK1M", 3925.0, 3391.0, category=Category.MOBILE, antenna=Antenna(2.0, 2.0)),
    member("QK1F", -5400.0, -120.0),  # outside the searched block, on the ground beside it
)
RELAY = replace(member("QK9P", 0.0, 0.0), antenna=Antenna(8.0, 1.0), transmit_power_dbm=13.0)
NET = Net(name="Test", channels=(TWO_METRES, SEVENTY), repeaters=(), stations=MEMBERS)


def search_grid_of(
    ground_m: NDArray[np.float32], *, cell_m: float = 30.0, west_beyond: int = MARGIN_CELLS
) -> SearchGrid:
    """A block on given ground with three cells round it, `west_beyond` in the west."""
    rows, columns = ground_m.shape
    width = columns - west_beyond - MARGIN_CELLS
    return SearchGrid(
        SEA_SITE,
        site_crs(SEA_SITE),
        cell_m,
        ground_m,
        -(west_beyond + width / 2.0) * cell_m,
        rows / 2.0 * cell_m,
        MARGIN_CELLS,
        west_beyond,
        rows - 2 * MARGIN_CELLS,
        width,
    )


@pytest.fixture(scope="module")
def grid() -> SearchGrid:
    """9 x 8.4 km searched, rough, and 1.5 km more of known ground in the west."""
    return search_grid_of(ground_of("rough", 175, seed=5)[:306], west_beyond=48)


@pytest.fixture(scope="module")
def layer(grid: SearchGrid) -> MemberLayer:
    return member_layer(grid, MEMBERS, RELAY, SIMPLEX, RULE, NET)


def test_cells_left_aside_could_not_have_come_to_enough_and_all_others_are_whole(
    grid: SearchGrid, layer: MemberLayer
) -> None:
    order = tuple(sorted(layer.call_signs, key=layer.cells_reaching))
    assert layer.cells_reaching(order[0]) < layer.cells_reaching(order[-1])
    reached = layer.planes[0] >> np.uint64(layer.call_signs.index("QK1F")) & np.uint64(1)
    assert layer.cells_reaching("QK1F") == reached.sum()
    for at_least in (1, 3, 5):
        some = member_layer(grid, MEMBERS, RELAY, SIMPLEX, RULE, NET, aside=LeftAside(at_least, order))
        assert some.at_least == at_least and layer.at_least == 0 and layer.whole.all()
        assert (layer.hopeful[~some.whole] < at_least).all() and not some.whole.all()
        assert some.whole[layer.hopeful >= at_least].all()
        assert np.array_equal(some.planes[:, some.whole], layer.planes[:, some.whole])
        for name in ("count", "hopeful", "worst_db", "known"):
            told, every = getattr(some, name), getattr(layer, name)
            assert np.array_equal(told[some.whole], every[some.whole]), name


def test_a_few_cells_anywhere_get_the_loss_they_have_among_all(grid: SearchGrid) -> None:
    """In every direction, the diagonals and axes too; sectors without any are left out."""
    path = AreaPath(frequency_mhz=146.52, site_height_m=6.0, far_height_m=8.0, model=AreaModel.TYPICAL_LAND)
    row, column = grid.rows // 2, grid.columns // 2
    east_m, north_m = float(grid.columns_m()[column]), float(grid.rows_m()[row])
    every = loss_cells(grid, path, east_m=east_m, north_m=north_m, who="QK1A").copy()
    rng = np.random.default_rng(8)
    far = rng.integers(1, 120, 40)
    for down, across in ((0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1), (-1, 0), (-1, 1)):
        wanted = np.zeros(grid.shape, dtype=np.bool_)
        wanted[row + down * far[:5], column + across * far[:5]] = True
        some = loss_cells(grid, path, east_m=east_m, north_m=north_m, who="QK1A", wanted=wanted)
        assert np.array_equal(some[wanted], every[wanted]), (down, across)
        assert np.isnan(some).sum() > 0.9 * some.size
    wanted = rng.random(grid.shape) < 0.01
    some = loss_cells(grid, path, east_m=east_m, north_m=north_m, who="QK1A", wanted=wanted)
    assert np.nanmax(np.abs(some - every)[wanted]) < 0.03 and not np.isnan(some[wanted]).any()


def test_cells_that_are_not_wanted_are_left_out_and_the_others_stay(
    grid: SearchGrid, layer: MemberLayer
) -> None:
    wanted = np.random.default_rng(4).random(grid.shape) < 0.3
    wanted[:, :40] = False
    some = member_layer(grid, MEMBERS, RELAY, SIMPLEX, RULE, NET, wanted=wanted)
    assert np.array_equal(some.planes[:, wanted], layer.planes[:, wanted])
    assert np.array_equal(some.count[wanted], layer.count[wanted])
    assert np.array_equal(some.worst_db[wanted], layer.worst_db[wanted])
    assert np.array_equal(some.known[wanted], layer.known[wanted])
    places = [grid.place_m(station.position) for station in MEMBERS]
    away = ~wanted
    for east_m, north_m in places:  # a member's own cell needs no look
        away &= grid.distance_m(east_m, north_m) > grid.cell_m
    assert not some.known[away].any() and not some.count[away].any()


def single_path_loss_db(
    grid: SearchGrid, station: Station, cells: NDArray[np.int64], *, frequency_mhz: float
) -> NDArray[np.float64]:
    """Loss of single paths from a member's exact place to the cells' exact centres."""
    lines = []
    for cell in cells:
        row, column = divmod(int(cell), grid.columns)
        east, north = float(grid.columns_m()[column]), float(grid.rows_m()[row])
        from_east, from_north = grid.place_m(station.position)
        length = math.hypot(east - from_east, north - from_north)
        share = np.linspace(0.0, 1.0, max(2, math.ceil(length / grid.cell_m)) + 1)
        x = (from_east + share * (east - from_east) - grid.west_m) / grid.cell_m - 0.5
        y = (grid.north_m - from_north - share * (north - from_north)) / grid.cell_m - 0.5
        ground = bilinear(grid.ground_m, y, x)
        lines.append(Profile.of(share * length, ground, mid_latitude_deg=SEA_SITE.latitude_deg))
    losses = choose_model("auto", frequency_mhz).losses(
        ProfileBatch.of(lines),
        tx_height_m=station.antenna.height_m,
        rx_height_m=RELAY.antenna.height_m,
        frequency_mhz=frequency_mhz,
        polarisation=Polarisation.VERTICAL,
    )
    return losses.loss_db


def single_path_spare_db(grid: SearchGrid, station: Station, cells: NDArray[np.int64]) -> NDArray[np.float64]:
    """Margin over workable of the weaker direction, from two full link budgets a path."""
    loss_db = single_path_loss_db(grid, station, cells, frequency_mhz=146.52)
    own = station_end(station, frequency_mhz=146.52, net_noise=NET.noise)
    relay = station_end(RELAY, frequency_mhz=146.52, net_noise=NET.noise)
    spare = []
    for loss in loss_db:
        both = [
            link_budget(
                tx=tx, rx=rx, path_loss_db=float(loss), frequency_mhz=146.52, mode=fm_mode(5.0), sigma_db=8.0
            ).margin_db
            for tx, rx in ((own, relay), (relay, own))
        ]
        spare.append(min(both))
    return np.array(spare)


def test_layer_agrees_with_single_paths_on_500_random_cells(grid: SearchGrid, layer: MemberLayer) -> None:
    """A cell's loss is taken within half a cell of its centre, so only cells within 1.5 dB may differ."""
    cells = np.random.default_rng(8).choice(grid.rows * grid.columns, 500, replace=False)
    differing, near, total, shares = 0, 0, 0, []
    for number, station in enumerate(MEMBERS):
        wanted = single_path_spare_db(grid, station, cells)
        found = (layer.planes[0].ravel()[cells] >> np.uint64(number) & np.uint64(1)).astype(bool)
        edge = np.abs(wanted) < 1.5
        # on ground as rough as noise half a cell aside may be worth more, in one cell of a hundred
        assert (found == (wanted >= 0.0))[~edge].mean() > 0.99, station.call_sign
        differing += int((found != (wanted >= 0.0)).sum())
        near += int(edge.sum())
        total += cells.size
        shares.append(found.mean())
    assert near < 0.2 * total
    assert differing < 0.02 * total
    assert min(shares) < 0.6 and max(shares) > 0.2  # the ground decides: neither all nor nothing


def test_spare_agrees_with_single_paths(grid: SearchGrid) -> None:
    cells = np.random.default_rng(9).choice(grid.rows * grid.columns, 500, replace=False)
    for station in (MEMBERS[0], MEMBERS[4]):
        hub = member_hub(station, SIMPLEX, NET)
        spare = spare_cells(grid, hub, RELAY, RULE, net_noise=NET.noise, k_factor=4.0 / 3.0).ravel()[cells]
        difference = spare - single_path_spare_db(grid, station, cells)
        assert abs(np.median(difference)) < 0.1
        assert np.percentile(np.abs(difference), 90) < 1.0
        assert np.percentile(np.abs(difference), 99) < SLACK_DB  # on ground as rough as noise


def test_planes_count_and_worst_say_the_same(layer: MemberLayer) -> None:
    bits = np.stack([(layer.planes[0] >> np.uint64(j)) & np.uint64(1) for j in range(len(MEMBERS))])
    assert np.array_equal(bits.sum(axis=0), layer.count)
    assert np.array_equal(np.isinf(layer.worst_db), layer.count == 0)
    assert (layer.worst_db[layer.count > 0] >= 0.0).all()
    assert layer.known.all()


def test_hope_is_of_those_a_better_path_would_reach(grid: SearchGrid, layer: MemberLayer) -> None:
    """Counted again from each member's own spare."""
    swept = [
        spare_cells(grid, member_hub(m, SIMPLEX, NET), RELAY, RULE, net_noise=NET.noise, k_factor=4.0 / 3.0)
        for m in MEMBERS
    ]
    assert np.array_equal(layer.hopeful, sum((spare_db >= -SLACK_DB).astype(np.uint16) for spare_db in swept))
    assert (layer.hopeful > layer.count).any() and (layer.hopeful >= layer.count).all()


def test_worst_counts_only_the_decisive(grid: SearchGrid, layer: MemberLayer) -> None:
    """Groups: the strongest of each group reached, the weakest of those; order of sweeps changes no bit."""
    spare = {
        m.call_sign: spare_cells(
            grid, member_hub(m, SIMPLEX, NET), RELAY, RULE, net_noise=NET.noise, k_factor=4.0 / 3.0
        )
        for m in MEMBERS
    }
    other = member_layer(grid, MEMBERS, RELAY, SIMPLEX, RULE, NET, decisive=[("QK1M", "QK1A"), ("QK1B",)])
    assert np.array_equal(other.planes, layer.planes)
    first = np.maximum(spare["QK1M"], spare["QK1A"])
    wanted = np.full(grid.shape, np.inf, np.float32)
    for group in (first, spare["QK1B"]):
        wanted = np.where(group >= 0.0, np.minimum(wanted, group), wanted)
    assert np.array_equal(other.worst_db, wanted)


def test_one_member_is_the_area_service_of_its_own_site() -> None:
    """On a grid centred on the member, the layer is that of the area sweep."""
    from tests.coverage.conftest import grid_of

    ground = ground_of("coastal", 120, seed=2)
    own = grid_of(ground)
    station = member("QK1C", 0.0, 0.0)
    hub = station_hub(station, TWO_METRES, NET)
    loss = area_loss(own, area_path(hub, RELAY, k_factor=NET.k_factor), Clearance.COMPUTE)
    wanted = area_service(loss, hub, RELAY, net_noise=NET.noise).weaker_margin_db
    search = search_grid_of(ground)
    found = spare_cells(search, hub, RELAY, RULE, net_noise=NET.noise, k_factor=4.0 / 3.0)
    both = ~np.isnan(wanted[3:-3, 3:-3])
    assert both.sum() > 40_000
    # the search sweeps out to the block's corners, so its radials lie otherwise: within half a cell
    difference = np.abs(found - wanted[3:-3, 3:-3])[both]
    assert np.median(difference) < 0.1
    assert np.percentile(difference, 99) < 1.3


def test_chance_rule_follows_the_spread() -> None:
    """Cells at the edge of the rule have just that chance by the area service."""
    from tests.coverage.conftest import grid_of

    ground = ground_of("smooth", 120, seed=4)
    station = member("QK1C", 0.0, 0.0)
    hub = station_hub(station, TWO_METRES, NET)
    path = area_path(hub, RELAY, k_factor=NET.k_factor)
    loss = area_loss(grid_of(ground), path, Clearance.COMPUTE)
    chance = area_service(loss, hub, RELAY, net_noise=NET.noise).chance[3:-3, 3:-3]
    for asked in (0.3, 0.9):
        spare = spare_cells(
            search_grid_of(ground),
            hub,
            RELAY,
            ChanceThreshold(asked),
            net_noise=NET.noise,
            k_factor=4.0 / 3.0,
        )
        clear = np.abs(chance - asked) > 0.01
        known = ~np.isnan(chance) & clear
        # radials of the search lie otherwise, and now and then see another kind of path
        assert ((spare >= 0.0) == (chance >= asked))[known].mean() > 0.985


def test_a_cross_band_pair_needs_both_bands(grid: SearchGrid) -> None:
    """Talk-in by one band's loss, talk-out by the other's, each its own sweep."""
    pair = SiteChannels(listen=TWO_METRES, talk=SEVENTY)
    station = MEMBERS[0]
    spare = spare_cells(
        grid, member_hub(station, pair, NET), RELAY, RULE, net_noise=NET.noise, k_factor=4.0 / 3.0
    )
    cells = np.random.default_rng(3).choice(grid.rows * grid.columns, 60, replace=False)
    wanted = []
    for frequency, inward in ((146.52, True), (446.0, False)):
        own = station_end(station, frequency_mhz=frequency, net_noise=NET.noise)
        relay = station_end(RELAY, frequency_mhz=frequency, net_noise=NET.noise)
        tx, rx = (own, relay) if inward else (relay, own)
        losses = single_path_loss_db(grid, station, cells, frequency_mhz=frequency)
        wanted.append(
            [
                link_budget(
                    tx=tx, rx=rx, path_loss_db=float(loss), frequency_mhz=frequency, mode=fm_mode(5.0),
                    sigma_db=8.0,
                ).margin_db
                for loss in losses
            ]
        )  # fmt: skip
    difference = spare.ravel()[cells] - np.min(wanted, axis=0)
    assert np.percentile(np.abs(difference), 90) < 1.5
    assert abs(np.median(difference)) < 0.15


def test_a_pair_of_different_deviation_is_refused() -> None:
    with pytest.raises(OutOfRange, match="cross-band pair needs the same"):
        SiteChannels(TWO_METRES, Channel("narrow", 446.0, deviation_khz=2.5))


@pytest.mark.parametrize("corner", [(-2.4e3, 2.4e3), (2.4e3, -2.4e3), (0.0, 0.0), (-2.9e3, 0.0)])
def test_every_cell_is_known_from_anywhere(corner: tuple[float, float]) -> None:
    """Corners, edges, middle: the box swept always holds the block."""
    flat = search_grid_of(np.full((206, 206), 20.0, np.float32))
    loss = loss_cells(flat, AreaPath(146.52, 10.0, 8.0), east_m=corner[0], north_m=corner[1], who="QK1A")
    assert loss.shape == flat.shape
    assert np.isfinite(loss).all()
    far = flat.distance_m(*corner)
    ring = far > 500.0
    # over flat ground loss grows with distance alone
    order = np.argsort(far[ring])
    assert np.corrcoef(loss[ring][order], np.log10(far[ring][order]))[0, 1] > 0.99


def test_moving_everything_by_whole_cells_changes_nothing() -> None:
    ground = ground_of("rough", 90, seed=6)
    path = AreaPath(146.52, 6.0, 8.0)
    one = loss_cells(search_grid_of(ground), path, east_m=407.0, north_m=-211.0, who="QK1A")
    moved = np.roll(ground, (5, -9), axis=(0, 1))
    other = loss_cells(
        search_grid_of(moved), path, east_m=407.0 - 9 * 30.0, north_m=-211.0 - 5 * 30.0, who="QK1A"
    )
    # the same ground, but for what wrapped round: compare a window that sees only shared ground
    a, b = one[40:-40, 40:-40], other[45:-35, 31:-49]
    assert np.median(np.abs(a - b)) < 1e-3


def test_a_void_makes_cells_unknown_and_a_member_in_one_is_refused() -> None:
    ground = np.full((126, 126), 20.0, np.float32)
    ground[:, 90:100] = np.nan
    grid = search_grid_of(ground)
    station = member("QK1A", -900.0, 0.0)
    layer = member_layer(grid, [station], RELAY, SIMPLEX, RULE, NET)
    assert not layer.known[:, 87:97].any()  # the void itself
    assert not layer.known[40:80, 98:].any()  # and what lies behind it
    assert layer.known[:, :80].all()
    with pytest.raises(MissingTerrain, match="QK1V"):
        member_layer(grid, [member("QK1V", 960.0, 0.0)], RELAY, SIMPLEX, RULE, NET)


def test_a_member_beyond_free_space_is_never_swept_for() -> None:
    grid = search_grid_of(np.full((66, 66), 20.0, np.float32))
    weak = member("QK1W", 0.0, 90_000.0, transmit_power_dbm=-30.0)
    layer = member_layer(grid, [weak], RELAY, SIMPLEX, RULE, NET)
    assert layer.count.max() == 0 and layer.known.all()


def test_progress_counts_members(grid: SearchGrid) -> None:
    seen: list[tuple[int, int]] = []
    member_layer(
        grid, MEMBERS[:2], RELAY, SIMPLEX, RULE, NET, progress=lambda done, total: seen.append((done, total))
    )
    assert seen == [(1, 2), (2, 2)]
