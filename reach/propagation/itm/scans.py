"""Single passes over the points of a profile, written so that compilers turn them into vector code."""

from __future__ import annotations

import math

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

IN_ANY_ORDER = {"nsz", "reassoc", "contract"}  # sums in vectors: the last bit or two may differ
SAME_HEIGHT_M = 1e-9
NORMAL_DECILE = 1.28155  # standard deviations from mean to decile of a normal distribution
NORMAL_DECILE_DENSITY = 0.17550  # its density there


@register_jitable(fastmath=IN_ANY_ORDER)
def sum_of(values: FloatArray) -> float:
    """Sum of all values."""
    total = 0.0
    for i in range(values.size):
        total += values[i]
    return total


@register_jitable(fastmath=IN_ANY_ORDER)
def sum_and_count_within(values: FloatArray, lowest: float, highest: float) -> tuple[float, int]:
    """Sum of all values, and how many lie between the bounds, ends included; NaN does not."""
    total = 0.0
    count = 0
    for i in range(values.size):
        total += values[i]
        count += 1 if (values[i] >= lowest) & (values[i] <= highest) else 0
    return total, count


@register_jitable(fastmath=IN_ANY_ORDER)
def moments(values: FloatArray) -> tuple[float, float]:
    """Sum of the values and of their products with the distance from the middle, in points; half the ends."""
    half = 0.5 * (values.size - 1)
    total = 0.0
    moment = 0.0
    u = -half
    for i in range(values.size):
        total += values[i]
        moment += u * values[i]
        u += 1.0
    first, last = values[0], values[values.size - 1]
    return total - 0.5 * (first + last), moment - 0.5 * half * (last - first)


@register_jitable(fastmath=IN_ANY_ORDER)
def interpolated(z: FloatArray, first: float, step: float, heights: FloatArray, part: FloatArray) -> None:
    """Heights between the points of z, by straight lines, at places first, first + step, ... in points.

    Only the last place may lie beyond the last point, by rounding. part : scratch, no shorter than heights.
    Source : ITM 1.2.2, samples of delta h.
    """
    last = heights.size - 1
    u = 0.0
    for j in range(last):
        place = first + step * u
        whole = math.floor(place)
        heights[j] = whole
        part[j] = place - whole
        u += 1.0
    next_z = z[1:]
    for j in range(last):
        point = np.uint32(heights[j])  # not negative: spares a check for counting from the end
        heights[j] = z[point] + (next_z[point] - z[point]) * part[j]
    place = first + step * last
    i = min(int(place), z.size - 2)
    heights[last] = z[i] + (z[i + 1] - z[i]) * (place - i)


@register_jitable(fastmath=IN_ANY_ORDER)
def take_off_line(values: FloatArray, at_first: float, slope: float) -> float:
    """Take the line (slope per point) off the values, in place; return the sum of squares of what is left."""
    squares = 0.0
    u = 0.0
    for i in range(values.size):
        left = values[i] - (at_first + slope * u)
        values[i] = left
        squares += left * left
        u += 1.0
    return squares


@register_jitable
def counts_outside(values: FloatArray, low: float, high: float) -> tuple[int, int]:
    """How many values are at most low, and how many are at least high."""
    at_most = 0
    at_least = 0
    for i in range(values.size):
        at_most += 1 if values[i] <= low else 0
        at_least += 1 if values[i] >= high else 0
    return at_most, at_least


@register_jitable
def gaps_beyond(
    values: FloatArray, limit_1: float, sign_1: float, limit_2: float, sign_2: float
) -> tuple[float, float]:
    """Distance from each limit to the next value above it (sign 1) or below it (sign -1).

    Negative floats compare as whole numbers by their bits (IEEE 754), the smallest magnitude least and all of
    them less than positive ones: integer minima become vector code, float minima do not.
    """
    least_1 = np.int64(0)
    least_2 = np.int64(0)
    for i in range(values.size):
        key_1 = np.float64((limit_1 - values[i]) * sign_1).view(np.int64)
        key_2 = np.float64((limit_2 - values[i]) * sign_2).view(np.int64)
        least_1 = key_1 if key_1 < least_1 else least_1
        least_2 = key_2 if key_2 < least_2 else least_2
    return -float(np.int64(least_1).view(np.float64)), -float(np.int64(least_2).view(np.float64))


@register_jitable
def is_wide(k: int, low: float, below: int, high: float, above: int) -> bool:
    """Whether a bracket low < k-th smallest <= high, with below values at most low and above at most high,
    does not yet tell which value it is.
    """
    return below < k and above > k + 1 and high - low > SAME_HEIGHT_M


@register_jitable
def next_guess(
    passes: int, k: int, step: float, widest: float, low: float, below: int, high: float, above: int
) -> float:
    """Where to cut a bracket next: as if its values lay evenly, but into halves now and then.

    While one of its ends is still as wide as possible, a step from the other: step, m, a value's usual share.
    """
    if passes % 6 == 5:
        return 0.5 * (low + high)
    if high == widest:
        return min(low + passes * step * (k + 0.5 - below), 0.5 * (low + high))
    if low == -widest:
        return max(high - passes * step * (above - k - 0.5), 0.5 * (low + high))
    return low + min(max((k + 0.5 - below) / (above - below), 0.05), 0.95) * (high - low)


@register_jitable
def kth_from_both_ends(values: FloatArray, k: int, squares: float) -> tuple[float, float]:
    """The k-th smallest and the k-th largest value, k from 0; equals within 1e-9 m may be confused.

    squares : sum of the squares of the values, whose mean is about zero. Narrows down both by counting, which
    for a few hundred values is several times faster than sorting or partitioning, whose branches no processor
    foresees. The largest (2) are the smallest of the values with their signs turned.
    """
    size = values.size
    widest = math.sqrt(squares) * (1.0 + 1e-9) + SAME_HEIGHT_M
    sigma = math.sqrt(squares / size)
    step = sigma / (NORMAL_DECILE_DENSITY * size)
    low_1, below_1, high_1, above_1 = -widest, 0, widest, size
    low_2, below_2, high_2, above_2 = -widest, 0, widest, size
    guess_1 = -NORMAL_DECILE * sigma
    guess_2 = guess_1
    passes = 0
    wide_1 = is_wide(k, low_1, below_1, high_1, above_1)
    wide_2 = wide_1
    while wide_1 or wide_2:
        if passes > 0:
            guess_1 = next_guess(passes, k, step, widest, low_1, below_1, high_1, above_1)
            guess_2 = next_guess(passes, k, step, widest, low_2, below_2, high_2, above_2)
        count_1, count_2 = counts_outside(values, guess_1, -guess_2)
        if wide_1:
            if count_1 > k:
                high_1, above_1 = guess_1, count_1
            else:
                low_1, below_1 = guess_1, count_1
            wide_1 = is_wide(k, low_1, below_1, high_1, above_1)
        if wide_2:
            if count_2 > k:
                high_2, above_2 = guess_2, count_2
            else:
                low_2, below_2 = guess_2, count_2
            wide_2 = is_wide(k, low_2, below_2, high_2, above_2)
        passes += 1
    # the value wanted is the next above the bracket's low end, or the last at its high end
    limit_1, sign_1 = (high_1 + 0.5 * SAME_HEIGHT_M, -1.0) if above_1 == k + 1 else (low_1, 1.0)
    limit_2, sign_2 = (high_2 + 0.5 * SAME_HEIGHT_M, -1.0) if above_2 == k + 1 else (low_2, 1.0)
    gap_1, gap_2 = gaps_beyond(values, limit_1, sign_1, -limit_2, -sign_2)
    return limit_1 + sign_1 * gap_1, -(limit_2 + sign_2 * gap_2)


@register_jitable(fastmath=IN_ANY_ORDER)
def highest_over_ray(
    z: FloatArray,
    away_1: FloatArray,
    away_2: FloatArray,
    Z_1: float,
    Z_2: float,
    over_1: float,
    over_2: float,
    bend: float,
) -> tuple[int, int]:
    """Largest slopes over the direct ray from either end, as the bits of their floats; 0 where none is.

    away_1, away_2 : 1/(points to the end). Slopes are per point, over_1 - bend i and over_2 + bend i what the
    ray and the earth's curvature take off. Positive floats compare as whole numbers by their bits (IEEE 754).
    """
    most_1 = np.int64(0)
    most_2 = np.int64(0)
    u = 0.0
    for i in range(z.size):
        key_1 = np.float64((z[i] - Z_1) * away_1[i] + (over_1 - u)).view(np.int64)
        key_2 = np.float64((z[i] - Z_2) * away_2[i] + (over_2 + u)).view(np.int64)
        most_1 = key_1 if key_1 > most_1 else most_1
        most_2 = key_2 if key_2 > most_2 else most_2
        u += bend
    return most_1, most_2  # type: ignore[return-value]


@register_jitable(fastmath=IN_ANY_ORDER)
def slopes_from(
    floor: float, z: FloatArray, away: FloatArray, Z: float, over: float, turn: float
) -> tuple[int, int]:
    """How many slopes over the direct ray are at least floor, and the sum of their indices.

    As `highest_over_ray`, for one end; turn : the earth's curvature per point, signed as the points run.
    """
    count = 0
    places = 0
    u = 0.0
    for i in range(z.size):
        found = (z[i] - Z) * away[i] + (over - u) >= floor
        count += 1 if found else 0
        places += i if found else 0
        u += turn
    return count, places


@register_jitable
def is_even(distance: FloatArray) -> bool:
    """Whether every point is within a millionth of the step of where equal spacing would put it."""
    n = distance.size - 1
    xi = distance[n] / n
    tolerance = 1e-6 * xi
    even = 0  # counts what is right, so that NaN is not
    for i in range(n):
        even += 1 if abs(distance[i] - i * xi) <= tolerance else 0
    return even == n


@register_jitable
def is_ascending(distance: FloatArray) -> bool:
    """Whether distances ascend from 0 and are finite."""
    good = distance[0] == 0.0 and distance[distance.size - 1] < np.inf
    for i in range(1, distance.size):
        good &= distance[i] > distance[i - 1]
    return bool(good)
