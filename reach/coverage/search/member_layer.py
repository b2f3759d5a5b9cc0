"""Whom a site in each cell would reach, both ways: one sweep a member, kept as one bit a member a cell.

Path loss is the same both ways, so each member is swept once, out to the site's mast in every cell. The
ground is shifted by less than half a cell for each member, so that the member stands in the middle of a cell
on its own ground; a cell's loss is thus that of a point within half a cell of its centre. Bare ground,
delta-Bullington (Rec. ITU-R P.526-15, 4.5), as the area sweep.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from reach.coverage.area.service import Hub, beam_loss_raster_db, has_fixed_beam
from reach.coverage.search.grid import MARGIN_CELLS, SearchGrid
from reach.coverage.sweep.grid import SiteGrid, site_crs
from reach.coverage.sweep.loss import AreaPath, area_loss
from reach.errors import MissingTerrain, OutOfRange
from reach.links.budget import received_levels_dbm, required_levels_dbm
from reach.links.ends import RadioEnds, station_end
from reach.links.receiver import fm_mode
from reach.links.spread import station_sigma_db, time_sigma_db
from reach.propagation.free_space import FREE_SPACE_CONSTANT_DB
from reach.propagation.variability import PATH_SIGMA_DB
from reach.stations import Channel, Net, NoiseEnvironment, Station

Raster = NDArray[np.float32]
FloatArray = NDArray[np.float64]
Progress = Callable[[int, int], None]

BITS = 64
DISTANCE_STEPS = 256
SAME_PATH_RATIO = 1.1  # frequencies this close share one sweep, free space corrected


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
            return f"{self.listen.frequency_mhz:g} MHz ({self.listen.name})"
        return f"listening on {self.listen.frequency_mhz:g} MHz, talking on {self.talk.frequency_mhz:g} MHz"


def member_hub(member: Station, channels: SiteChannels, net: Net) -> Hub:
    """A member as the fixed end: it sends on what the relay listens on, and listens to what it talks on."""
    receiving = station_end(
        member,
        frequency_mhz=channels.talk.frequency_mhz,
        net_noise=net.noise,
        polarisation=channels.talk.polarisation,
    )
    sending = station_end(
        member,
        frequency_mhz=channels.listen.frequency_mhz,
        net_noise=net.noise,
        polarisation=channels.listen.polarisation,
    )
    return Hub(
        call_sign=member.call_sign,
        name=member.name,
        position=member.position,
        antenna=member.antenna,
        input_mhz=channels.talk.frequency_mhz,
        output_mhz=channels.listen.frequency_mhz,
        receiving=receiving,
        sending=sending,
        sigma_db=math.hypot(station_sigma_db(member.category), receiving.extra_sigma_db),
        mode=fm_mode(channels.listen.deviation_khz),
        polarisation=channels.listen.polarisation,
    )


@dataclass(frozen=True)
class _Way:
    """One direction: margin where the path loses nothing, its spread without the air's, at a frequency."""

    frequency_mhz: float
    best_db: float
    sigma_db: float


def _ways(hub: Hub, station: Station, *, net_noise: NoiseEnvironment) -> tuple[_Way, _Way]:
    ways = []
    for inward, frequency_mhz in ((True, hub.input_mhz), (False, hub.output_mhz)):
        own = station_end(
            station, frequency_mhz=frequency_mhz, net_noise=net_noise, polarisation=hub.polarisation
        )
        tx, rx = (own, hub.receiving) if inward else (hub.sending, own)
        senders, receivers = RadioEnds.of([tx]), RadioEnds.of([rx])
        level_dbm = received_levels_dbm(tx=senders, rx=receivers, path_loss_db=np.zeros(1))
        best_db = float((level_dbm - required_levels_dbm(tx=senders, rx=receivers, mode=hub.mode))[0])
        site_sigma_db = math.hypot(station_sigma_db(station.category), own.extra_sigma_db)
        sigma_db = math.hypot(PATH_SIGMA_DB, site_sigma_db, hub.sigma_db, rx.noise_sigma_db)
        ways.append(_Way(frequency_mhz, best_db, sigma_db))
    return ways[0], ways[1]


@dataclass(frozen=True)
class _LossLimit:
    """Largest path loss at a sweep's frequency with which both directions still count, at even distances."""

    frequency_mhz: float
    step_m: float
    limit_db: FloatArray

    def at(self, distance_m: Raster) -> Raster | np.float32:
        if np.ptp(self.limit_db) == 0.0:
            return np.float32(self.limit_db[0])
        distances = np.arange(self.limit_db.size) * self.step_m
        limit: Raster = np.interp(distance_m, distances, self.limit_db).astype(np.float32)
        return limit


def _loss_limits(
    hub: Hub, station: Station, rule: MarginRule, *, net_noise: NoiseEnvironment, farthest_m: float
) -> tuple[_LossLimit, ...]:
    """One limit a sweep: one for both directions where their frequencies are close, else one each."""
    ways = _ways(hub, station, net_noise=net_noise)
    step_m = farthest_m / DISTANCE_STEPS
    distance_m = np.arange(DISTANCE_STEPS + 2) * step_m

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
            return rule.needed_margin_db(np.hypot(way.sigma_db, air_db))

        weak = needed_db(1.0)
        return way.best_db - np.where(weak >= 0.0, weak, needed_db(-1.0))

    low, high = sorted(way.frequency_mhz for way in ways)
    if high / low > SAME_PATH_RATIO:
        return tuple(_LossLimit(way.frequency_mhz, step_m, limit_db(way)) for way in ways)
    middle_mhz = math.sqrt(low * high)
    both = np.minimum(*(limit_db(way) - 20.0 * math.log10(way.frequency_mhz / middle_mhz) for way in ways))
    return (_LossLimit(middle_mhz, step_m, both),)


def spare_cells(
    grid: SearchGrid, hub: Hub, station: Station, rule: MarginRule, *, net_noise: NoiseEnvironment,
    k_factor: float,
) -> Raster:  # fmt: skip
    """By how much the weaker direction between a place and such a station in each cell exceeds the rule.

    Returns : (rows, columns) float32 dB, negative where it misses, NaN where the ground is not known.
    Raises : MissingTerrain when the place's own ground is not known; OutOfRange.
    """
    east_m, north_m = grid.place_m(hub.position)
    distance_m = grid.distance_m(east_m, north_m)
    limits = _loss_limits(hub, station, rule, net_noise=net_noise, farthest_m=float(distance_m.max()) + 1.0)
    if _out_of_reach(limits, float(distance_m.min())):
        return np.full(grid.shape, -np.inf, dtype=np.float32)
    beam_db = beam_loss_raster_db(hub, grid.bearing_deg(east_m, north_m)) if has_fixed_beam(hub) else 0.0
    spare_db: Raster | None = None
    for limit in limits:
        path = AreaPath(
            frequency_mhz=limit.frequency_mhz,
            site_height_m=hub.antenna_height_m,
            far_height_m=station.antenna.height_m,
            k_factor=k_factor,
            polarisation=hub.polarisation,
        )
        loss_db = loss_cells(grid, path, east_m=east_m, north_m=north_m, who=hub.call_sign)
        spare = limit.at(distance_m) - loss_db - beam_db
        spare_db = spare if spare_db is None else np.minimum(spare_db, spare)
    assert spare_db is not None
    return spare_db


def _out_of_reach(limits: Sequence[_LossLimit], nearest_m: float) -> bool:
    """Whether even free space is too long to the nearest cell: diffraction only adds to it."""
    if nearest_m <= 0.0:
        return False
    return any(
        FREE_SPACE_CONSTANT_DB + 20.0 * math.log10(limit.frequency_mhz * nearest_m * 1e-3)
        > float(limit.limit_db.max())
        for limit in limits
    )


def loss_cells(grid: SearchGrid, path: AreaPath, *, east_m: float, north_m: float, who: str) -> Raster:
    """Path loss from a place in the plane to every searched cell, (rows, columns) float32, NaN unknown.

    Only the box that holds the place and the searched block is swept. Raises : MissingTerrain; OutOfRange.
    """
    cell_m = grid.cell_m
    across, down = (east_m - grid.west_m) / cell_m - 0.5, (grid.north_m - north_m) / cell_m - 0.5
    column, row = round(across), round(down)
    block_rows, block_columns = grid.block
    top = min(row, block_rows.start) - MARGIN_CELLS + 1
    bottom = max(row + 1, block_rows.stop) + MARGIN_CELLS - 1
    left = min(column, block_columns.start) - MARGIN_CELLS + 1
    right = max(column + 1, block_columns.stop) + MARGIN_CELLS - 1
    ground = _shifted(grid.ground_m, (top, bottom), (left, right), down=down - row, across=across - column)
    if math.isnan(float(ground[row - top, column - left])):
        raise MissingTerrain(f"{who}: no elevation where it stands; add a tile that covers it.")
    # far enough for the block's corners, and for the box when it is as large
    far_row = max(row - block_rows.start, block_rows.stop - 1 - row)
    far_column = max(column - block_columns.start, block_columns.stop - 1 - column)
    radius = max(3, math.ceil(math.hypot(far_row, far_column)) + 1)
    square = np.full((2 * radius + 1, 2 * radius + 1), np.nan, dtype=np.float32)
    into_row, into_column = radius - (row - top), radius - (column - left)
    skip_row, skip_column = max(0, -into_row), max(0, -into_column)
    part = ground[
        skip_row : skip_row + 2 * radius + 1 - max(into_row, 0),
        skip_column : skip_column + 2 * radius + 1 - max(into_column, 0),
    ]
    square[
        max(into_row, 0) : max(into_row, 0) + part.shape[0],
        max(into_column, 0) : max(into_column, 0) + part.shape[1],
    ] = part
    site = SiteGrid(grid.centre, square, cell_m, site_crs(grid.centre), grid.transform)
    loss = area_loss(site, path).loss_db
    first_row, first_column = block_rows.start - row + radius, block_columns.start - column + radius
    return loss[first_row : first_row + grid.rows, first_column : first_column + grid.columns]


def _shifted(
    ground_m: Raster, rows: tuple[int, int], columns: tuple[int, int], *, down: float, across: float
) -> Raster:
    """Ground of some rows and columns at points moved by part of a cell down and across, bilinear."""

    def moved(values: Raster, axis: int, first: int, last: int, by: float) -> Raster:
        here = values.take(range(first, last), axis=axis) if axis else values[first:last]
        if by == 0.0:
            return here
        beside = slice(first + 1, last + 1) if by > 0.0 else slice(first - 1, last - 1)
        there = values[beside] if axis == 0 else values[:, beside]
        weight = np.float32(abs(by))
        made: Raster = here * (np.float32(1.0) - weight) + there * weight
        return made

    wide = moved(ground_m, 0, rows[0], rows[1], down)
    return moved(wide, 1, columns[0], columns[1], across)


@dataclass(frozen=True)
class MemberLayer:
    """Whom a site in each cell reaches both ways.

    call_signs : the members, bit j % 64 of plane j // 64 standing for the j-th.
    planes : (planes, rows, columns) uint64; count : (rows, columns) uint16, how many are reached.
    worst_db : (rows, columns) float32, spare of the weakest of the decisive members (or groups) reached, dB
        over what the rule needs; infinite where none is.
    known : (rows, columns) False where nothing could be said of some member.
    """

    grid: SearchGrid
    call_signs: tuple[str, ...]
    planes: NDArray[np.uint64]
    count: NDArray[np.uint16]
    worst_db: Raster
    known: NDArray[np.bool_]

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
    progress: Progress | None = None,
) -> MemberLayer:
    """Sweep every member against a relay like `station` standing in every cell.

    members : with a radio path, in the order of the bits. decisive : groups (of one member, mostly) whose
    strongest member's spare counts in worst_db; None for every member by itself.
    Cost : one sweep of the grid a member (two for a cross-band pair); 8 bytes a cell for 64 members.
    Raises : MissingTerrain, OutOfRange.
    """
    planes = np.zeros((max(1, -(-len(members) // BITS)), *grid.shape), dtype=np.uint64)
    count = np.zeros(grid.shape, dtype=np.uint16)
    worst_db = np.full(grid.shape, np.inf, dtype=np.float32)
    known = np.ones(grid.shape, dtype=np.bool_)
    bit = {member.call_sign: number for number, member in enumerate(members)}
    groups = [[call] for call in bit] if decisive is None else [list(group) for group in decisive]
    idle = sorted(set(bit) - {call for group in groups for call in group}, key=bit.__getitem__)
    swept = 0
    for group in [*groups, idle]:
        strongest_db = np.full(grid.shape, -np.inf, dtype=np.float32)
        for call in group:
            number = bit[call]
            hub = member_hub(members[number], channels, net)
            spare_db = spare_cells(grid, hub, station, rule, net_noise=net.noise, k_factor=net.k_factor)
            reached = spare_db >= 0.0  # NaN compares false
            known &= ~np.isnan(spare_db)
            planes[number // BITS] |= reached.astype(np.uint64) << np.uint64(number % BITS)
            count += reached
            np.maximum(strongest_db, spare_db, out=strongest_db, where=reached)
            swept += 1
            if progress is not None:
                progress(swept, len(members))
        if group is not idle:
            np.minimum(worst_db, strongest_db, out=worst_db, where=strongest_db >= 0.0)
    return MemberLayer(grid, tuple(bit), planes, count, worst_db, known)
