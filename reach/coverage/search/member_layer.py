"""Whom a site in each cell would reach, both ways: one sweep a member, kept as one bit a member a cell.

Path loss is the same both ways, so each member is swept once, out to the site's mast in every cell. The
ground is shifted by less than half a cell for each member, so that the member stands in the middle of a cell
on its own ground; a cell's loss is thus that of a point within half a cell of its centre. The model, and what
stands on the ground, are those of the net's single paths.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from reach.coverage.area.service import (
    Hub,
    beam_loss_raster_db,
    has_fixed_beam,
    said_land_m,
    station_hub,
)
from reach.coverage.search.grid import MARGIN_CELLS, SearchGrid
from reach.coverage.sweep.path import AreaModel, AreaPath, area_model
from reach.coverage.sweep.run import SweepGround, SweepResult, SweepSite, sweep_into
from reach.errors import MissingTerrain, OutOfRange
from reach.links.budget import received_levels_dbm, required_levels_dbm
from reach.links.ends import RadioEnds, station_end
from reach.links.land import counted_once, net_cover
from reach.links.lasting import HeardEnd
from reach.links.spread import site_sigma_db, time_sigma_db
from reach.machinery.parallel import over_tasks
from reach.machinery.progress import Progress
from reach.propagation.choose import choose_model
from reach.propagation.free_space import FREE_SPACE_CONSTANT_DB
from reach.propagation.models import LandSight
from reach.propagation.path_kind import PathKind, kind_sigma_db
from reach.propagation.typical_land.model import Cover
from reach.stations import Channel, Net, NoiseEnvironment, Station

Raster = NDArray[np.float32]
FloatArray = NDArray[np.float64]

BITS = 64
SLACK_DB = 3.0  # a path by itself and its sweep lie nearer: 1 to 1.5 dB in 99 of 100 (test_agreement.py)
DISTANCE_STEPS = 256
SAME_PATH_RATIO = 1.1  # frequencies this close share one sweep, free space corrected
KIND_SIGMA_DB = kind_sigma_db([kind.value for kind in PathKind])


class MarginRule(Protocol):
    """When a direction counts: the margin over workable it needs, dB, from the spread of that margin, dB."""

    def needed_margin_db(self, sigma_db: FloatArray) -> FloatArray:
        """In the shape of sigma_db."""
        ...


@dataclass(frozen=True)
class SiteChannels:
    """What the portable relay listens on and talks on; one simplex channel, or a cross-band pair."""

    listen: Channel
    talk: Channel

    def __post_init__(self) -> None:
        if not math.isclose(self.listen.deviation_khz, self.talk.deviation_khz):
            raise OutOfRange(
                f"{self.listen.name} has {self.listen.deviation_khz:g} kHz deviation and {self.talk.name} "
                f"{self.talk.deviation_khz:g} kHz; a cross-band pair needs the same on both."
            )

    @property
    def is_pair(self) -> bool:
        """Whether the two differ."""
        return self.listen.frequency_mhz != self.talk.frequency_mhz

    @property
    def words(self) -> str:
        """How they are said."""
        if not self.is_pair:
            return f"{self.listen.frequency_mhz:.8g} MHz ({self.listen.name})"
        return (
            f"listening on {self.listen.frequency_mhz:.8g} MHz, talking on {self.talk.frequency_mhz:.8g} MHz"
        )


def member_hub(member: Station, channels: SiteChannels, net: Net) -> Hub:
    """A member as the fixed end: it sends on what the relay listens on, and listens to what it talks on."""
    sending = station_hub(member, channels.listen, net)
    receiving = station_hub(member, channels.talk, net)
    return replace(
        sending, input_mhz=receiving.input_mhz, receiving=receiving.receiving, sigma_db=receiving.sigma_db
    )


@dataclass(frozen=True)
class _Way:
    """One direction: margin where the path loses nothing, its spread without the path's and the air's."""

    frequency_mhz: float
    best_db: float
    sigma_db: float


def _ways(hub: Hub, station: Station, *, net_noise: NoiseEnvironment, cover: Cover) -> tuple[_Way, _Way]:
    ways = []
    for inward, frequency_mhz in ((True, hub.input_mhz), (False, hub.output_mhz)):
        own = station_end(
            station, frequency_mhz=frequency_mhz, net_noise=net_noise, polarisation=hub.polarisation
        )
        tx, rx = (own, hub.receiving) if inward else (hub.sending, own)
        senders, receivers = RadioEnds.of([tx]), RadioEnds.of([rx])
        level_dbm = received_levels_dbm(tx=senders, rx=receivers, path_loss_db=np.zeros(1))
        best_db = float((level_dbm - required_levels_dbm(tx=senders, rx=receivers, mode=hub.mode))[0])
        own_sigma_db = math.hypot(site_sigma_db(station, cover), own.extra_sigma_db)
        if inward:
            found = hub.hears(best_db, other_sigma_db=own_sigma_db)
        else:
            found = hub.is_heard(best_db, other_sigma_db=own_sigma_db, other_noise_sigma_db=rx.noise_sigma_db)
        ways.append(_Way(frequency_mhz, *found))
    return ways[0], ways[1]


@dataclass(frozen=True)
class _LossLimit:
    """Largest path loss at a sweep's frequency with which both directions still count: limit_db[kind, step]
    by the kind of path, at even distances."""

    frequency_mhz: float
    step_m: float
    limit_db: FloatArray


def _loss_limits(
    hub: Hub,
    station: Station,
    rule: MarginRule,
    *,
    net_noise: NoiseEnvironment,
    cover: Cover,
    farthest_m: float,
) -> tuple[_LossLimit, ...]:
    """One limit a sweep: one for both directions where their frequencies are close, else one each."""
    ways = _ways(hub, station, net_noise=net_noise, cover=cover)
    step_m = farthest_m / DISTANCE_STEPS
    distance_m = np.arange(DISTANCE_STEPS + 2) * step_m

    kind_db = hub.path_scale * KIND_SIGMA_DB[:, None]

    def limit_db(way: _Way) -> FloatArray:
        def needed_db(margin_db: float) -> FloatArray:
            air_db = time_sigma_db(
                distance_m=distance_m,
                frequency_mhz=way.frequency_mhz,
                tx_effective_height_m=station.antenna.height_m,
                rx_effective_height_m=hub.antenna_height_m,
                margin_db=margin_db,
                line_of_sight=False,
            )
            return rule.needed_margin_db(np.hypot(np.hypot(way.sigma_db, air_db), kind_db))

        weak = needed_db(1.0)
        return way.best_db - np.where(weak >= 0.0, weak, needed_db(-1.0))

    low, high = sorted(way.frequency_mhz for way in ways)
    if high / low > SAME_PATH_RATIO:
        return tuple(_LossLimit(way.frequency_mhz, step_m, limit_db(way)) for way in ways)
    middle_mhz = math.sqrt(low * high)
    both = np.minimum(*(limit_db(way) - 20.0 * math.log10(way.frequency_mhz / middle_mhz) for way in ways))
    return (_LossLimit(middle_mhz, step_m, both),)


@dataclass(frozen=True)
class SearchModel:
    """How the paths of a search are computed: the model of single paths, and what stands along them."""

    model: AreaModel = AreaModel.TYPICAL_LAND
    cover: Cover = Cover.USUAL

    @classmethod
    def of(cls, net: Net) -> SearchModel:
        """That of a net. Raises : OutOfRange for a model there is no sweep for."""
        return cls(area_model(net.model), net_cover(net))

    def sees(self, frequency_mhz: float) -> LandSight:
        """What it makes of trees and houses on a band."""
        return choose_model(self.model.value, frequency_mhz, cover=self.cover).sees


class _Room:
    """Arrays kept from one member to the next; fresh ones cost as much time as half a sweep."""

    def __init__(self) -> None:
        self._held: dict[str, Raster] = {}

    def take(self, name: str, shape: tuple[int, int]) -> Raster:
        """(rows, columns) contiguous float32, whatever is in it."""
        size = shape[0] * shape[1]
        if name not in self._held or self._held[name].size < size:
            self._held[name] = np.empty(size, dtype=np.float32)
        return self._held[name][:size].reshape(shape)

    def kinds(self, shape: tuple[int, int]) -> NDArray[np.int8]:
        """The same for codes of kinds of path."""
        return (
            self.take("kinds", (-(-shape[0] * shape[1] // 4), 1))
            .view(np.int8)
            .ravel()[: shape[0] * shape[1]]
            .reshape(shape)
        )


_NO_KINDS = np.zeros((1, 1), dtype=np.int8)
_ALL_LOOKED = np.ones((1, 1), dtype=np.bool_)


def spare_cells(
    grid: SearchGrid, hub: Hub, station: Station, rule: MarginRule, *, net_noise: NoiseEnvironment,
    k_factor: float, how: SearchModel = SearchModel(), room: _Room | None = None,
    wanted: NDArray[np.bool_] | None = None,
) -> Raster:  # fmt: skip
    """By how much the weaker direction between a place and such a station in each cell exceeds the rule.

    room : keeps arrays for the next call, which then overwrites this one's answer. wanted : (rows, columns)
    cells to be looked at; nothing is said of others.
    Returns : (rows, columns) float32 dB, negative where it misses, NaN where the ground is not known.
    Raises : MissingTerrain when the place's own ground is not known; OutOfRange.
    """
    from reach.coverage.search._layer_kernel import spare_rows

    room = _Room() if room is None else room
    station = counted_once(station, how.sees(hub.middle_mhz))
    east_m, north_m = grid.place_m(hub.position)
    nearest_m, farthest_m = _reach_m(grid, east_m, north_m)
    limits = _loss_limits(
        hub, station, rule, net_noise=net_noise, cover=how.cover, farthest_m=farthest_m + 1.0
    )
    spare_db = room.take("spare", grid.shape)
    if _out_of_reach(limits, nearest_m):
        spare_db[:] = -np.inf
        return spare_db
    from_east = (float(grid.columns_m()[0]) - east_m) / grid.cell_m
    from_north = (float(grid.rows_m()[0]) - north_m) / grid.cell_m
    for number, limit in enumerate(limits):
        path = AreaPath(
            frequency_mhz=limit.frequency_mhz,
            site_height_m=hub.antenna_height_m,
            far_height_m=station.antenna.height_m,
            k_factor=k_factor,
            polarisation=hub.polarisation,
            model=how.model,
            cover=how.cover,
            site_land_m=hub.land_m,
            far_land_m=said_land_m(station),
        )
        asked = np.ptp(limit.limit_db, axis=0).max() > 0.0
        kind = room.kinds(grid.shape) if asked else _NO_KINDS
        loss_db = loss_cells(
            grid,
            path,
            east_m=east_m,
            north_m=north_m,
            who=hub.call_sign,
            room=room,
            kind=kind if asked else None,
            wanted=wanted,
        )
        if has_fixed_beam(hub):
            loss_db += beam_loss_raster_db(hub, grid.bearing_deg(east_m, north_m))
        over_tasks(
            spare_rows,
            grid.rows,
            loss_db,
            _NO_KINDS if kind is None else kind,
            _ALL_LOOKED if wanted is None else wanted,
            from_east,
            from_north,
            limit.step_m / grid.cell_m,
            limit.limit_db,
            number > 0,
            spare_db,
        )
    return spare_db


def _reach_m(grid: SearchGrid, east_m: float, north_m: float) -> tuple[float, float]:
    """Distance of the nearest and of the farthest searched cell's centre from a place, m."""
    across, down = np.abs(grid.columns_m() - east_m), np.abs(grid.rows_m() - north_m)
    return (
        math.hypot(float(across.min()), float(down.min())),
        math.hypot(float(across.max()), float(down.max())),
    )


def _out_of_reach(limits: Sequence[_LossLimit], nearest_m: float) -> bool:
    """Whether even free space is too long to the nearest cell: diffraction only adds to it."""
    if nearest_m <= 0.0:
        return False
    return any(
        FREE_SPACE_CONSTANT_DB + 20.0 * math.log10(limit.frequency_mhz * nearest_m * 1e-3)
        > float(limit.limit_db.max())
        for limit in limits
    )


def loss_cells(
    grid: SearchGrid, path: AreaPath, *, east_m: float, north_m: float, who: str, room: _Room | None = None,
    kind: NDArray[np.int8] | None = None, wanted: NDArray[np.bool_] | None = None,
) -> Raster:  # fmt: skip
    """Path loss from a place in the plane to every searched cell, (rows, columns) float32, NaN unknown.

    kind : (rows, columns) to be filled with the codes of `PathKind`. wanted : as `spare_cells`.
    Only the box that holds the place and the searched block is swept. Raises : MissingTerrain; OutOfRange.
    """
    from reach.coverage.search._layer_kernel import shift_rows

    room = _Room() if room is None else room
    cell_m = grid.cell_m
    across, down = (east_m - grid.west_m) / cell_m - 0.5, (grid.north_m - north_m) / cell_m - 0.5
    column, row = round(across), round(down)
    block_rows, block_columns = grid.block
    top = min(row, block_rows.start) - MARGIN_CELLS + 1
    bottom = max(row + 1, block_rows.stop) + MARGIN_CELLS - 1
    left = min(column, block_columns.start) - MARGIN_CELLS + 1
    right = max(column + 1, block_columns.stop) + MARGIN_CELLS - 1
    ground_m = room.take("ground", (bottom - top, right - left))
    over_tasks(shift_rows, ground_m.shape[0], grid.ground_m, top, left, down - row, across - column, ground_m)
    if math.isnan(float(ground_m[row - top, column - left])):
        raise MissingTerrain(
            f"{who}: no elevation where it stands; add a tile that covers it, or correct its position."
        )
    far_row = max(row - block_rows.start, block_rows.stop - 1 - row)
    far_column = max(column - block_columns.start, block_columns.stop - 1 - column)
    radius = max(3, math.ceil(math.hypot(far_row, far_column)) + 1)
    loss_db = room.take("loss", ground_m.shape)
    loss_db.fill(np.nan)
    kinds = None if kind is None else np.zeros(ground_m.shape, dtype=np.int8)
    cover_m = None if grid.cover_m is None else grid.cover_m[top:bottom, left:right]
    first_row, first_column = block_rows.start - top, block_columns.start - left
    block = np.s_[first_row : first_row + grid.rows, first_column : first_column + grid.columns]
    asked = None if wanted is None else np.zeros(ground_m.shape, dtype=np.bool_)
    if asked is not None:
        asked[block] = wanted
    sweep_into(
        SweepResult(loss_db, kind=kinds),
        SweepGround(ground_m, cover_m, asked),
        SweepSite(row - top, column - left, cell_m, grid.centre.latitude_deg),
        path,
        radius_cells=radius,
    )
    if kind is not None and kinds is not None:
        kind[:] = kinds[block]
    return loss_db[block]


@dataclass(frozen=True)
class LeftAside:
    """Cells in which fewer than at_least decisive members can be hopeful are looked at no further as soon as
    that is certain. order : all call signs, in the order of the sweeps; the hardest to reach tell soonest."""

    at_least: int
    order: tuple[str, ...]


@dataclass(frozen=True)
class MemberLayer:
    """Whom a site in each cell reaches both ways.

    call_signs : the members, bit j % 64 of plane j // 64 standing for the j-th.
    planes : (planes, rows, columns) uint64; count : (rows, columns) uint16, how many are reached.
    worst_db : (rows, columns) float32, spare of the weakest of the decisive members (or groups) reached, dB
        over what the rule needs; infinite where none is.
    known : (rows, columns) False where nothing could be said of some member.
    hopeful : (rows, columns) uint16, how many of the decisive members are reached, or would be if every path
        were SLACK_DB better than its sweep.
    whole : (rows, columns) where every member was looked at: in every wanted cell that may have at_least
        hopeful ones. Elsewhere less is counted than there is.
    """

    grid: SearchGrid
    call_signs: tuple[str, ...]
    planes: NDArray[np.uint64]
    count: NDArray[np.uint16]
    worst_db: Raster
    known: NDArray[np.bool_]
    hopeful: NDArray[np.uint16]
    whole: NDArray[np.bool_]
    at_least: int = 0

    def cells_reaching(self, call_sign: str) -> int:
        """From how many cells a member is reached."""
        plane, bit = divmod(self.call_signs.index(call_sign), BITS)
        return int(np.count_nonzero(self.planes[plane] >> np.uint64(bit) & np.uint64(1)))

    def reached(self, cell: int) -> tuple[str, ...]:
        """Call signs of the members a site in that cell reaches, in order."""
        row, column = divmod(int(cell), self.grid.columns)
        bits = [int(plane[row, column]) for plane in self.planes]
        return tuple(call for j, call in enumerate(self.call_signs) if bits[j // BITS] >> (j % BITS) & 1)


def member_layer(
    grid: SearchGrid,
    members: Sequence[Station],
    station: Station,
    channels: SiteChannels,
    rule: MarginRule,
    net: Net,
    *,
    decisive: Sequence[Sequence[str]] | None = None,
    heard: Mapping[str, HeardEnd] | None = None,
    wanted: NDArray[np.bool_] | None = None,
    aside: LeftAside | None = None,
    progress: Progress | None = None,
) -> MemberLayer:
    """Sweep every member against a relay like `station` standing in every cell.

    members : with a radio path, in the order of the bits. decisive : groups (of one member, mostly) whose
    strongest member's spare counts in worst_db; None for every member by itself. heard : what reports have
    taught of members, by call sign. wanted : cells a site may stand in, for the rest is not looked at; None
    for all. aside : which cells are left aside on the way; None for none.
    Cost : one sweep of the grid a member (two for a cross-band pair), a part of one where few cells are left;
    8 bytes a cell for 64 members. Raises : MissingTerrain, OutOfRange.
    """
    from reach.coverage.search._layer_kernel import mark_rows, weakest_rows

    planes = np.zeros((max(1, -(-len(members) // BITS)), *grid.shape), dtype=np.uint64)
    count, hopeful = (np.zeros(grid.shape, dtype=np.uint16) for _ in range(2))
    worst_db = np.full(grid.shape, np.inf, dtype=np.float32)
    known = np.ones(grid.shape, dtype=np.bool_)
    bit = {member.call_sign: number for number, member in enumerate(members)}
    groups = [[call] for call in bit] if decisive is None else [list(group) for group in decisive]
    idle = sorted(set(bit) - {call for group in groups for call in group}, key=bit.__getitem__)
    at_least = 0 if aside is None else aside.at_least
    if aside is not None:
        turns = {call: number for number, call in enumerate(aside.order)}
        groups.sort(key=lambda group: max(turns[call] for call in group))
    how = SearchModel.of(net)
    room = _Room()
    strongest_db = room.take("strongest", grid.shape)
    left = None if wanted is None else wanted.copy()
    swept = 0
    for turn, group in enumerate([*groups, idle], start=1):
        for place, call in enumerate(group):
            number = bit[call]
            hub = replace(member_hub(members[number], channels, net), heard=(heard or {}).get(call))
            spare_db = spare_cells(
                grid, hub, station, rule, net_noise=net.noise, k_factor=net.k_factor, how=how,
                room=room, wanted=left,
            )  # fmt: skip
            over_tasks(
                mark_rows,
                grid.rows,
                spare_db,
                _ALL_LOOKED if left is None else left,
                np.uint64(1 << (number % BITS)),
                planes[number // BITS],
                count,
                known,
                strongest_db,
                place == 0,
                np.float32(SLACK_DB),
                np.uint16(group is not idle),
                hopeful,
            )
            swept += 1
            if progress is not None:
                progress(swept, len(members))
        if group is idle:
            continue
        over_tasks(weakest_rows, grid.rows, strongest_db, worst_db)
        if at_least > len(groups) - turn:
            possible = hopeful >= at_least - (len(groups) - turn)
            left = possible if left is None else np.logical_and(left, possible, out=left)
    if wanted is not None:
        known &= wanted
    whole = np.ones(grid.shape, dtype=np.bool_) if left is None else left
    return MemberLayer(grid, tuple(bit), planes, count, worst_db, known, hopeful, whole, at_least)
