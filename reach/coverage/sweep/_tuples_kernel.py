"""What the compiled loops of the sweep are handed: a few named tuples of arrays and scalars.

Lengths along a radial are counted in columns (cells of the axis the octant runs along); heights are metres
above the ground at the site. Slopes are metres a column.
"""

# mypy: disable-error-code="no-untyped-def"
from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

Float32 = NDArray[np.float32]
Float64 = NDArray[np.float64]
Int32 = NDArray[np.int32]
Int64 = NDArray[np.int64]

RECORD_BLOCK = 16
RECORD_GROUP = 128  # whole blocks
LANES = 32  # receivers looked at together; fewer, and the compiler unrolls the loops before it can vectorise

(
    SKY_MOST, GROUND_MOST, TOTAL, MOMENT, RECORDS, DEAD, BARE_MOST, BARE_NEWEST, NEAR_MOST, NEAR_RECORDS,
    OPEN_COLUMNS,
) = range(11)  # fmt: skip
STATES = 11


def apart(function):
    """njit for an inner loop: it makes no array; those it is handed belong to the caller and never overlap.

    So the compiler may use vector units on them, and need not count who holds them each time one is named.
    """

    def plain(flags):
        flags.noalias = True
        flags.nrt = False
        return flags

    dispatcher = njit(error_model="numpy")(function)
    compiler = getattr(dispatcher, "_compiler", None)
    if compiler is not None:  # numba has no public way to say it; without one the same bits take longer
        compiler._customize_flags = plain
    return dispatcher


class Ground(NamedTuple):
    """The raster and where the site lies in it.

    elevation, cover : flat, row by row; cover is one element where nothing is known to stand on the ground.
    wanted : flat, 1 in cells to be looked at and 0 in others; one element for all.
    site_row, site_column : the site's cell; east, north, west, south : cells between it and the raster's
    edges. site_m : ground at the site above sea level.
    """

    elevation: Float32
    cover: Float32
    wanted: NDArray[np.uint8]
    width: int
    site_row: int
    site_column: int
    east: int
    north: int
    west: int
    south: int
    cell_m: float
    site_m: float


class Fan(NamedTuple):
    """How radials are laid: first radials of an octant, how often each splits in two, and how far they go.

    until : (octants times roots,) the farthest column of each first radial's sector with a wanted cell; one
    element where all of them go to the end.
    """

    roots: int
    levels: int
    radius_cells: int
    until: Int32


EVEN, COVERED, MIXED, HIGHER = range(4)  # how what stands on the ground is looked at, see `Link`


class Link(NamedTuple):
    """What holds for every path of a sweep.

    far_height_m : antenna above the ground in the cells. far_land_m : what stands round it, m, 0 for open
    land; below 0, what the raster has in each cell. worked : antennas are worked at the top of what stands
    round them, at least, and pay an end term for it (Rec. ITU-R P.2108-1, 3.1).
    look : EVEN: cover of lift_m on all ground between the ends, whose antennas stand at or above it;
    COVERED: the raster's, or lift_m of it everywhere but within open_m of the site; MIXED: that of
    `usual_cover_m` with near_land_m in the site's half and far_land_m in the other; HIGHER: the same, where
    neither end is open and near_land_m is the higher one, lift_m the other.
    clear_limit : nu^2 from which a path in sight loses nothing and its worst point is not looked for.
    free_space_db : at 1 km. x_factor, y_factor : of P.526-15, 3.1, with the frequency in them;
    log_admittance : log2 of K at 1 km radius; beta_by_formula : beta of eq. (30) is not taken as 1.
    """

    far_height_m: float
    far_land_m: float
    worked: bool
    look: int
    lift_m: np.float32
    open_m: float
    near_land_m: float
    frequency_ghz: float
    radius_m: float
    wavelength_m: float
    clear_limit: np.float32
    free_space_db: np.float32
    x_factor: np.float32
    y_factor: np.float32
    log_admittance: np.float32
    beta_by_formula: bool


class Site(NamedTuple):
    """The site's end: antenna above ground; what stands round it, m, and within near_m of it the paths are
    looked at twice where that is lower than the cover there (0: never)."""

    height_m: float
    land_m: float
    near_m: float


class Turn(NamedTuple):
    """The site's end as one turn works it: antenna above ground, end term, and which receivers look.

    as_said : those with what stands in their own cell; within_near : those that stand lower than the cover
    within near_columns, as if they stood in it. lowest : keep the smaller loss of this and the turn before.
    """

    tx_m: np.float32
    tx_end_db: float
    as_said: bool
    within_near: bool
    near_columns: int
    lowest: bool


class Before(NamedTuple):
    """What stands before the receivers of a stretch, looked at on the line to each cell's centre.

    columns : how many before the receiver are; 0 where the radial's own are as good. clearing_columns :
    nearer than so many to either end nothing adds to the ground. site : flat index of the site's cell;
    step_x, step_y : flat steps of the octant's axes; rows_a_step : 1 / step_y.
    """

    columns: int
    clearing_columns: int
    site: int
    step_x: int
    step_y: int
    rows_a_step: float


class Mechanisms(NamedTuple):
    """P.1812 beyond diffraction. wanted : False leaves diffraction alone.

    ducting_db : the least A(50 %) of eq. (53) anywhere at so many cells from the site; coupling_db : the
    fixed part of eq. (47); mrad_db : gamma_d of (51). scatter_db : the fixed part of (44); scatter_waves :
    4 pi over the wavelength, 1/m, for the frequency gain; 0 leaves the gain out. location_db : on top of
    the median.
    """

    wanted: bool
    frequency_ghz: float
    latitude_deg: float
    ducting_db: Float32
    coupling_db: np.float32
    mrad_db: np.float32
    scatter_db: np.float32
    scatter_waves: np.float32
    location_db: float


class Hull(NamedTuple):
    """Upper hull of a radial's columns as seen from beyond them.

    height : of every column; previous : the hull's next node towards the site as the hull was when the
    column was put on it, so that every column keeps its own hull for ever; edge : the slope between the
    two. following : for nodes on the hull as it is now, the next one away from the site.
    """

    height: Float32
    edge: Float32
    previous: Int32
    following: Int32


class Records(NamedTuple):
    """Columns that stand higher, seen from the site, than all before them: where, at which slope; count[k]
    is how many lie before column k."""

    at: Float32
    slope: Float32
    count: Int32  # type: ignore[assignment]  # a tuple's own count is not asked for here


class Owned(NamedTuple):
    """The columns of a stretch that own a cell, the cell's flat index and its squared distance in cells."""

    column: Int32
    cell: Int64
    square: Float32


class Look(NamedTuple):
    """What is seen between the site and a receiver at an owned column, close together; a column may have two.

    of : its place in Owned; column, square : copied from there; rx_m : antenna above ground; ends_db : end
    terms of both. ground : bare ground there; product : (A - S)(B + S) beyond the horizon, or minus the
    smallest (S - a)^2 d/(D - d) where the site is in sight, over what stands on the ground; from_tx,
    from_rx : largest slope of bare ground on a flat Earth from either end; obstruction : height of the worst
    such point above the line of antennas, 0 when below; sum_one, sum_two : normalised sums behind the smooth
    surface. tx_slope, rx_slope : of the horizons over bare ground on the bent Earth; tx_columns,
    rx_columns : how far off these are (in sight: the direct slope, and all columns for the first).
    """

    of: Int32
    column: Float32
    square: Float32
    rx_m: Float32
    ends_db: Float32
    ground: Float32
    product: Float32
    from_tx: Float32
    from_rx: Float32
    obstruction: Float32
    sum_one: Float32
    sum_two: Float32
    tx_slope: Float32
    rx_slope: Float32
    tx_columns: Float32
    rx_columns: Float32


class Seek(NamedTuple):
    """Receivers in sight whose worst point is looked for: their place in Look and the first record that
    counts; columns, direct slope, largest slope before, tangent point, and the best so far. until : the
    column from which on no point counts. near_... : the same among the points of the site's half alone."""

    of: Int32
    oldest: Int32
    far: Float32
    until: Float32
    direct: Float32
    top: Float32
    near: Float32
    best: Float32
    near_oldest: Int32
    near_until: Float32
    near_top: Float32
    near_near: Float32


class Standing(NamedTuple):
    """What stands right before the owned cells, on the line to each, and far from them.

    top[m] : height of the column m before each; most : the most that stands on those; ahead : their largest
    slope from the site; across : rows aside a column. far_back, far_most : of every look, the largest slope
    of what stands farther off, from the receiver and from the site; the rest is room for `join_before`.
    """

    top: Float32
    most: Float32
    ahead: Float32
    across: Float32
    far_back: Float32
    far_most: Float32
    least: Float32
    receiver: Float32
    direct: Float32


class Result(NamedTuple):
    """Loss, free space alone and clearance of every look, and which of them need a longer one."""

    loss_db: Float32
    free_db: Float32
    clearance: Float32
    doubtful: Int32


class Scratch(NamedTuple):
    """Everything one task writes on the way. bent, flat : bare ground; top : with what stands on it.

    open_columns : one number, how many columns round an open site top and records were made without cover.
    raised : room for `mixed_product`. near_records : of the site's half with what stands there, whose hull
    is top then (`HIGHER`). highest : columns of the cover that none nearer to the receiver
    overtops, in order.
    """

    inverse: Float32
    cover: Float32
    raised: Float32
    highest: Int32
    bent: Hull
    flat: Hull
    top: Hull
    records: Records
    near_records: Records
    owned: Owned
    look: Look
    seek: Seek
    standing: Standing
    result: Result
    states: Float64
    open_columns: Int64


class Out(NamedTuple):
    """Flat rasters to fill; clearance, and the code of `PathKind`, only where wanted."""

    loss_db: Float32
    clearance: Float32
    kind: NDArray[np.int8]
    want_clearance: bool
    want_kind: bool


@njit(error_model="numpy")
def new_hull(size):
    """A hull with room for columns below size. No walk towards the site goes beyond column 0."""
    edge = np.zeros(size, np.float32)
    edge[0] = np.float32(np.inf)
    return Hull(
        np.zeros(size, np.float32),
        edge,
        np.zeros(size, np.int32),
        np.zeros(size, np.int32),
    )


@njit(error_model="numpy")
def new_records(size):
    """Room for records of columns below size, and a block of none behind the last."""
    return Records(
        np.empty(size + RECORD_GROUP, np.float32),
        np.empty(size + RECORD_GROUP, np.float32),
        np.zeros(size + 1, np.int32),
    )


@njit(error_model="numpy")
def new_scratch(reach, levels, before):
    """Scratch for radials of up to `reach` columns, of which `before` are looked at before a receiver."""
    n = reach + 2
    inverse = np.empty(n, np.float32)
    inverse[0] = np.float32(0.0)
    for k in range(1, n):
        inverse[k] = np.float32(1.0 / k)
    room = 2 * n + LANES
    row = np.empty((35, room), np.float32)
    return Scratch(
        inverse,
        np.zeros(n, np.float32),
        np.zeros(n, np.float32),
        np.zeros(n, np.int32),
        new_hull(n),
        new_hull(n),
        new_hull(n),
        new_records(n),
        new_records(n),
        Owned(np.empty(n, np.int32), np.empty(n, np.int64), np.empty(n, np.float32)),
        Look(
            np.zeros(room, np.int32), row[0], row[1], row[2], row[3], row[4], row[5], row[6], row[7], row[8],
            row[9], row[10], row[11], row[12], row[13], row[14],
        ),
        Seek(
            np.empty(room, np.int32), np.empty(room, np.int32), row[15], row[16], row[17], row[18], row[19],
            row[20], np.empty(room, np.int32), row[21], row[22], row[23],
        ),
        Standing(
            np.empty((before + 1, n), np.float32), row[27], row[28], row[29], row[30], row[31], row[32],
            row[33], row[34],
        ),
        Result(row[24], row[25], row[26], np.zeros(room, np.int32)),
        np.zeros((levels + 2, STATES), np.float64),
        np.zeros(1, np.int64),
    )  # fmt: skip


SINH_SPAN = math.asinh(1.0)
