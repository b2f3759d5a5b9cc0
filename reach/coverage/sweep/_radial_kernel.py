"""One stretch of one radial, compiled: geometry by walking hulls, then loss by plain vector arithmetic.

Lengths along a radial are counted in columns (cells of the axis the octant runs along); heights are metres
above the ground at the site. Slopes are metres a column. Every intermediate point of a path is a column, so
node k of the hull is column k, and a radial that splits shares its nodes with both halves without copying.

No fast-math liberties are taken: every operation rounds as IEEE 754 says, so the same sweep gives the same
bits however the compiler arranges it, and on whichever processor of a cluster.
"""

# mypy: disable-error-code="no-untyped-def, import-untyped"
from __future__ import annotations

import math

import numpy as np
from llvmlite import ir
from numba import njit, types
from numba.extending import intrinsic

from reach.coverage.sweep._log_kernel import exp2_f32, log2_f32

RECORD_BLOCK = 16
RECORD_GROUP = 128  # whole blocks
LANES = 32  # receivers looked at together; fewer, and the compiler unrolls the loops before it can vectorise
AHEAD_CELLS, AHEAD_ROWS = 24, 4  # how far beside a radial its raster is fetched before neighbours need it

_F0 = np.float32(0.0)
_F1 = np.float32(1.0)
_F2 = np.float32(2.0)
_F01 = np.float32(0.1)
_HALF = np.float32(0.5)
_FAR = np.float32(np.inf)
_TINY = np.float32(1e-12)
_NU_OF_NO_LOSS = np.float32(-0.78)
_DB = np.float32(20.0 * math.log10(2.0))  # 20 log10(x) = _DB log2(x)
_SIXTH = np.float32(-math.log2(math.e) / 6.0)  # exp(-x/6) = 2**(_SIXTH x)


@intrinsic
def _fetch_ahead(typing_context, values, at):
    """Ask for values[at] to be brought nearer; at may lie outside, nothing is read."""

    def lower(context, builder, signature, arguments):
        data = context.make_array(signature.args[0])(context, builder, arguments[0]).data
        place = builder.bitcast(builder.gep(data, [arguments[1]]), ir.IntType(8).as_pointer())
        word = ir.IntType(32)
        kind = ir.FunctionType(ir.VoidType(), [place.type, word, word, word])
        prefetch = builder.module.declare_intrinsic("llvm.prefetch", [place.type], kind)
        builder.call(prefetch, [place, word(0), word(2), word(1)])
        return context.get_dummy_value()

    return types.void(values, types.int64), lower


@njit(error_model="numpy")
def sample_stretch(elevation, site, step_x, step_y, slope, site_m, curvature_m, first, last, ground, bent):
    """Ground along a stretch, linear between the two cells of each column that the radial passes between.

    elevation : flat raster; site : flat index of the site's cell; step_x, step_y : flat steps of the
    octant's axes.
    ground[k], bent[k] : height above site_m, without and with the bent Earth (curvature_m k^2 below).
    Returns how many samples are NaN.
    """
    voids = np.int32(0)
    ahead = AHEAD_CELLS * step_y if step_y * step_y == 1 else AHEAD_ROWS * step_y
    for k in range(first, last + 1):
        x = np.float32(k)
        y = x * slope
        row = np.int64(y)
        part = y - np.float32(row)
        at = site + k * step_x + row * step_y
        near = elevation[np.uint64(at)]
        _fetch_ahead(elevation, at + ahead)
        height = near + part * (elevation[np.uint64(at + step_y)] - near) - site_m
        ground[k] = height
        bent[k] = height - curvature_m * x * x
        voids = np.int32(voids + np.int32(height != height))
    return voids


def _apart(function):
    """njit for a function whose arrays never overlap: then the compiler may use vector units on them."""

    def no_overlap(flags):
        flags.noalias = True
        return flags

    dispatcher = njit(error_model="numpy")(function)
    compiler = getattr(dispatcher, "_compiler", None)
    if compiler is not None:  # numba has no public way to say it; without one the same bits take longer
        compiler._customize_flags = no_overlap
    return dispatcher


@_apart
def _promising(first, last, far, direct, top, near, best, record_at, record_slope):
    """Whether one of the records first..last could win for one of the receivers, by a bound for all."""
    first_at = record_at[first]
    last_slope = record_slope[last]
    promising = np.int32(0)
    for i in range(LANES):
        u = direct[i] - min(last_slope, top[i])
        d = max(first_at, near[i])
        bound = u * u * d / (far[i] - d)
        wins = np.int32(1) if far[i] > d and bound < best[i] else np.int32(0)
        promising = np.int32(max(promising, wins))
    return promising > 0


@_apart
def _worst_in_sight(oldest, records, far, direct, top, near, best, record_at, record_slope):
    """Smallest (S - a)^2 d/(D - d) over the points the site sees, for LANES receivers of one radial together.

    oldest, records : the first record that counts for any of them, and how many there are for the last.
    far, direct, top : D, S and the largest a of each receiver; near : its tangent point; best : the best
    known to begin with, and the result.

    A point farther from the site than one with a larger slope a fills less of its zone, so only records
    count; seen from the receiver the same rule leaves no point nearer the site than the receiver's tangent
    point. Blocks of records are bounded by their largest slope with their smallest distance, and opened only
    where that could win for one of the receivers. Infinite distances and slopes stand after the last record.
    """
    for group in range((records - 1) // RECORD_GROUP, oldest // RECORD_GROUP - 1, -1):
        start = group * RECORD_GROUP
        until = start + RECORD_GROUP
        if not _promising(start, until - 1, far, direct, top, near, best, record_at, record_slope):
            continue
        newest = min(until, records) - 1
        for block in range(newest // RECORD_BLOCK, max(start, oldest) // RECORD_BLOCK - 1, -1):
            begin = block * RECORD_BLOCK
            end = begin + RECORD_BLOCK
            if _promising(begin, end - 1, far, direct, top, near, best, record_at, record_slope):
                for r in range(begin, end):
                    d = record_at[np.uint64(r)]
                    a = record_slope[np.uint64(r)]
                    for i in range(LANES):
                        u = direct[i] - a
                        value = u * u * d / (far[i] - d)
                        best[i] = value if far[i] > d and value < best[i] else best[i]


@njit(error_model="numpy")
def push_stretch(
    first, last, tx_m, covered, inverse, ground, bent, bent_edge, bent_previous, ground_edge, ground_previous,
    record_at, record_slope, record_count, bent_top, ground_top, sum_one, sum_two, state,
):  # fmt: skip
    """Put every column of a stretch on the hulls and in the records, and sum the ground.

    ground : bare ground; bent : on the bent Earth, with what stands on it. A node's `previous` is the
    hull's next node towards the site as the hull was when the node was put on it, so every column keeps its
    own hull for ever. Results at k, from the columns before k: bent_top, ground_top: largest slope seen
    from the site; record_count; from those up to k: sum_one, sum_two: normalised sums behind the smooth
    surface.
    state : float64 (5): largest bent slope, largest ground slope, sum h, sum k h, number of records.
    """
    bent_most = np.float32(state[0])
    ground_most = np.float32(state[1])
    total = state[2]
    moment = state[3]
    records = np.int64(state[4])
    for k in range(first, last + 1):
        inverse_k = inverse[k]
        bent_k = bent[k]
        ground_k = ground[k]
        j = k - 1
        while bent_k - bent[j] >= bent_edge[j] * np.float32(k - j):
            j = bent_previous[j]
        bent_previous[k] = j
        bent_edge[k] = (bent_k - bent[j]) * inverse[k - j]
        if covered:
            j = k - 1
        while ground_k - ground[j] >= ground_edge[j] * np.float32(k - j):
            j = ground_previous[j]
        ground_previous[k] = j
        ground_edge[k] = (ground_k - ground[j]) * inverse[k - j]
        bent_top[k] = bent_most
        ground_top[k] = ground_most
        record_count[k] = records
        slope_k = (bent_k - tx_m) * inverse_k
        if slope_k > bent_most:
            bent_most = slope_k
            record_at[records] = np.float32(k)
            record_slope[records] = slope_k
            records += 1
        ground_most = max(ground_most, (ground_k - tx_m) * inverse_k)
        total += ground_k
        moment += np.float64(k) * ground_k
        sum_one[k] = np.float32((2.0 * total - ground_k) * inverse_k)
        sum_two[k] = np.float32((6.0 * moment - (3.0 * k + 1.0) * ground_k) * inverse_k * inverse_k)
    record_count[last + 1] = records
    for r in range(records, records + RECORD_GROUP):
        record_at[r] = _FAR
        record_slope[r] = _FAR
    state[0] = bent_most
    state[1] = ground_most
    state[2] = total
    state[3] = moment
    state[4] = records


@njit(error_model="numpy")
def look_stretch(
    count, column_of, tx_m, rx_m, covered, clear_factor, clear_limit, inverse, ground, bent_ground, bent,
    bent_edge, bent_previous, ground_edge, ground_previous, record_at, record_slope, record_count,
    bent_top, ground_top, sum_one, sum_two, seek_of, seek_oldest, seek,
    height, product, from_tx, from_rx, obstruction, own_one, own_two,
):  # fmt: skip
    """Horizons of a receiver at each of the first `count` columns named in column_of.

    ground, bent_ground : bare ground, flat and on the bent Earth; bent : the same with what stands on it
    (the same array when nothing does, and then covered is False, which saves steps: a tangent from higher
    up the same column, or over a less bent Earth, touches no nearer point).
    clear_factor : nu^2 = clear_factor k M for a line-of-sight column with clearance product M;
    clear_limit : nu^2 from which the loss is zero and the search for the worst point is not needed.
    Results at i, close together: height = bare ground; product = (A - S)(B + S) beyond the horizon, or
    minus the smallest (S - a)^2 d/(D - d) where the site is in sight; from_tx, from_rx = largest slope of
    bare ground from either end; obstruction = height of the worst bare-ground point above the line of
    antennas, 0 when below;
    own_one, own_two : the column's sum_one, sum_two.
    seek_of, seek_oldest, seek : room for count + LANES receivers whose worst point is looked for; the last
    has five rows.
    """
    seeking = 0
    for i in range(count):
        k = np.int64(column_of[i])
        inverse_k = inverse[k]
        ground_k = ground[k]
        receiver_bent = bent_ground[k] + rx_m
        receiver_ground = ground_k + rx_m
        direct = (receiver_bent - tx_m) * inverse_k
        level = (receiver_ground - tx_m) * inverse_k
        j = k - 1 if covered else np.int64(bent_previous[k])
        while receiver_bent - bent[j] >= bent_edge[j] * np.float32(k - j):
            j = np.int64(bent_previous[j])
        back = (bent[j] - receiver_bent) * inverse[k - j]
        g = k - 1 if covered else j
        while receiver_ground - ground[g] >= ground_edge[g] * np.float32(k - g):
            g = np.int64(ground_previous[g])
        height[i] = ground_k
        own_one[i] = sum_one[k]
        own_two[i] = sum_two[k]
        from_rx[i] = (ground[g] - receiver_ground) * inverse[k - g]
        from_tx[i] = ground_top[k]
        above = _F0
        if ground_top[k] > level:
            while ground_edge[g] < level:
                g = np.int64(ground_previous[g])
            above = ground[g] - tx_m - level * np.float32(g)
        obstruction[i] = above
        margin = direct - bent_top[k]
        if margin > _F0:
            best = margin * (-direct - back)
            if clear_factor * np.float32(k) * best < clear_limit:
                # the horizon points of both to begin with
                own = direct - (bent[j] - tx_m) * inverse[j]
                newest = record_at[record_count[k] - 1]
                best = min(
                    own * own * np.float32(j) * inverse[k - j],
                    margin * margin * newest * inverse[k - np.int64(newest)],
                )
                seek_of[seeking] = i
                seek_oldest[seeking] = record_count[j + 1]
                seek[0, seeking] = np.float32(k)
                seek[1, seeking] = direct
                seek[2, seeking] = bent_top[k]
                seek[3, seeking] = np.float32(j)
                seek[4, seeking] = best
                seeking += 1
            product[i] = -best
        else:
            product[i] = -margin * (back + direct)
    if seeking > 0:
        for c in range(seeking, seeking + LANES):  # the last again, to fill the lanes
            seek_of[c] = seek_of[seeking - 1]
            seek_oldest[c] = seek_oldest[seeking - 1]
            for row in range(5):
                seek[row, c] = seek[row, seeking - 1]
    for c in range(0, seeking, LANES):
        oldest = seek_oldest[c]
        for i in range(c, c + LANES):
            oldest = min(oldest, seek_oldest[i])
        records = record_count[np.int64(seek[0, c + LANES - 1])]
        _worst_in_sight(
            np.int64(oldest), np.int64(records), seek[0, c : c + LANES], seek[1, c : c + LANES],
            seek[2, c : c + LANES], seek[3, c : c + LANES], seek[4, c : c + LANES], record_at, record_slope,
        )  # fmt: skip
        for i in range(c, c + LANES):
            product[seek_of[i]] = -seek[4, i]


@njit(error_model="numpy", inline="always")
def knife_edge_f32(nu):
    """J(nu), dB. Rec. ITU-R P.526-15, eq. (31)."""
    v = nu - _F01
    w = math.sqrt(v * v + _F1) + v
    return np.float32(6.9) + _DB * log2_f32(w) if nu > _NU_OF_NO_LOSS else _F0


@njit(error_model="numpy", inline="always")
def bullington_f32(nu, distance_km):
    """Bullington loss of the equivalent edge, dB. P.526-15, 4.5.1; P.1812-7, eq. (21)."""
    edge_db = knife_edge_f32(nu)
    return edge_db + (_F1 - exp2_f32(_SIXTH * edge_db)) * (np.float32(10.0) + np.float32(0.02) * distance_km)


@njit(error_model="numpy", inline="always")
def height_gain_f32(b):
    """G of the argument beta Y, dB, before its floor. P.526-15, 3.1.1.2; P.1812-7, eq. (34)."""
    far = b > _F2
    inner = b - np.float32(1.1) if far else b + _F01 * b * b * b
    log_db = _DB * log2_f32(max(inner, _TINY))
    high = np.float32(17.6) * math.sqrt(max(inner, _F0)) - np.float32(0.25) * log_db - np.float32(8.0)
    return high if far else log_db


@njit(error_model="numpy", inline="always")
def first_term_f32(distance_km, tx_m, rx_m, log_radius, x_factor, y_factor, log_admittance):
    """First term of the spherical-Earth series over one kind of ground, dB. P.526-15, 3.1; P.1812-7, eqs
    (29)-(36).

    log_radius : log2 of the radius in km; x_factor, y_factor : frequency already in them; log_admittance :
    log2 of K at 1 km radius. Beta is taken as 1, as P.526-15 does for horizontal polarisation and above 20
    MHz over land.
    """
    root = exp2_f32(log_radius * np.float32(-1.0 / 3.0))
    log_k = log_admittance - log_radius * np.float32(1.0 / 3.0)
    x = max(x_factor * root * root * distance_km, _TINY)
    log_x = log2_f32(x)
    far = np.float32(11.0) + _HALF * _DB * log_x - np.float32(17.6) * x
    near = -_DB * log_x - np.float32(5.6488) * exp2_f32(np.float32(1.425) * log_x)
    gain = far if x >= np.float32(1.6) else near
    floor = _F2 + _DB * log_k
    scale = y_factor * root
    gain += max(height_gain_f32(scale * tx_m), floor) + max(height_gain_f32(scale * rx_m), floor)
    return -gain


@njit(error_model="numpy", inline="always")
def _least_clearance_step(w, hi, lo, bulge):
    """One Newton step towards hi w - lo = bulge w (1 - w)/(1 + w)^2."""
    t = _F1 + w
    t2 = t * t
    value = (hi * w - lo) * t2 - bulge * w * (_F1 - w)
    slope = hi * t2 * t - bulge * (_F1 - np.float32(3.0) * w)
    return max(w - value * t / slope, _TINY)


@njit(error_model="numpy", inline="always")
def _lowest_point_step(b, m, c):
    """One Newton step towards m b^3 - (m + 1) b + c = 0 from below."""
    return b + (m * b * b * b - (m + _F1) * b + c) / ((m + _F1) + _TINY - np.float32(3.0) * m * b * b)


@njit(error_model="numpy")
def loss_stretch(
    column_of, square_of, cell_m, tx_m, rx_m, column_m, radius_m, wavelength_m, free_space_db, x_factor,
    y_factor, log_admittance, ground, product, from_tx, from_rx, obstruction, sum_one, sum_two, loss_db,
    clearance,
):  # fmt: skip
    """Delta-Bullington basic transmission loss and clearance (in first-Fresnel radii) of the columns
    named.

    free_space_db : at 1 km. square_of : squared distance of the cell itself, in cells: free space is taken
    to the cell's centre, diffraction where the radial passes it. All arrays of one length.
    Source : P.526-15, 4.5; P.1812-7, eqs (22) to (27), (37) to (39), (85) to (91).

    Smooth Earth, least clearance in metres: m b^3 - (m + 1) b + c = 0, whose root eq. (24c) writes with an
    arc cosine. The left side falls and is convex up to that root, so Newton's steps from 0 reach it from
    one side. Largest nu over the zero profile in line of sight: with w = d2/d1 seen from the higher
    antenna, where hi w - lo = bulge w(1 - w)/(1 + w)^2, convex below w = 1, so Newton's steps from 1 close
    in from one side; three leave 0.011 dB at most on rough, smooth and coastal ground from 28 to 5000 MHz.
    """
    nu_factor = _F2 / (wavelength_m * column_m)
    curvature_m = column_m * column_m / (_F2 * radius_m)
    bend = math.sqrt(curvature_m)
    per_radius = np.float32(-1.0 / math.sqrt(2.0))
    cell_km = cell_m * np.float32(1e-3)
    log_earth = log2_f32(radius_m * np.float32(1e-3))
    wanted_factor = np.float32(1.0 / 0.552) / math.sqrt(wavelength_m)
    for k in range(loss_db.size):
        x = np.float32(column_of[k])
        per_x = _F1 / x
        distance_m = x * column_m
        km = distance_m * np.float32(1e-3)
        height = ground[k]
        p = product[k]
        zone = x * nu_factor
        size = math.sqrt(abs(p) * zone)
        nu = size if p >= _F0 else -size
        clearance[k] = nu * per_radius
        actual = bullington_f32(nu, km)
        level = (height + rx_m - tx_m) * per_x
        ahead = from_tx[k] - level
        behind = from_rx[k] + level
        above = obstruction[k]
        share = above / (ahead + behind) if above > _F0 else _F0
        tx_eff = tx_m - min(_F2 * sum_one[k] - sum_two[k] - share * ahead, _F0)
        rx_eff = height + rx_m - min(sum_two[k] - sum_one[k] - share * behind, height)
        hi = max(tx_eff, rx_eff)
        lo = min(tx_eff, rx_eff)
        roots = math.sqrt(hi) + math.sqrt(lo)
        bulge = curvature_m * x * x
        sight = bend * x < roots
        # Bullington over the zero profile
        direct = (lo - hi) * per_x - curvature_m * x
        front = -_F2 * bend * math.sqrt(hi)
        back = _F2 * bend * (bend * x - math.sqrt(lo))
        w = _least_clearance_step(_F1, hi, lo, bulge)
        w = _least_clearance_step(w, hi, lo, bulge)
        w = _least_clearance_step(w, hi, lo, bulge)
        u = min(_F1 / (_F1 + w), _F1 - per_x)
        v = _F1 - u
        gap = hi * v + lo * u - bulge * u * v
        square = gap * gap * per_x / (u * v) if sight else max((front - direct) * (back + direct), _F0) * x
        root = math.sqrt(square * nu_factor)
        smooth = bullington_f32(-root if sight else root, km)
        # spherical Earth
        both = _F1 / (hi + lo)
        m = min(_HALF * bulge * both, _F1)
        c = (hi - lo) * both
        b = c / (m + _F1)
        b = _lowest_point_step(b, m, c)
        b = _lowest_point_step(b, m, c)
        d1 = _HALF * (_F1 + min(b, _F1))
        d2 = _F1 - d1
        lowest = hi * d2 + lo * d1 - bulge * d1 * d2
        ratio = lowest * wanted_factor / math.sqrt(d1 * d2 * distance_m + _TINY)
        log_grazing = _F2 * log2_f32(distance_m / roots) - np.float32(1.0 + math.log2(1000.0))
        term = first_term_f32(
            km, hi, lo, log_grazing if sight else log_earth, x_factor, y_factor, log_admittance
        )
        sphere = max(_F1 - ratio, _F0) * max(term, _F0) if sight else term
        rise = (height + rx_m - tx_m) * np.float32(1e-3)
        far_square = square_of[k] * cell_km * cell_km
        free = free_space_db + _HALF * _DB * log2_f32(far_square + rise * rise)
        loss_db[k] = free + actual + max(sphere - smooth, _F0)
