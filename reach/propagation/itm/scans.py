"""Single passes over the points of a profile, written so that compilers turn them into vector code."""

from __future__ import annotations

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

IN_ANY_ORDER = {"nnan", "nsz", "reassoc"}  # sums in vectors: the last bit or two may differ
SAME_HEIGHT_M = 1e-9
SIGN_CLEAR = np.int64(0x7FFF_FFFF_FFFF_FFFF)
LEAST_KEY = -0x7FFF_FFFF_FFFF_FFFF


@register_jitable
def order_key(value: float) -> int:
    """A whole number that sorts as the float does (IEEE 754 bits): integer maxima become vector code, float
    maxima do not.
    """
    bits = np.float64(value).view(np.int64)
    return bits ^ ((bits >> 63) & SIGN_CLEAR)  # type: ignore[return-value]


@register_jitable
def float_of_key(key: int) -> float:
    """The float of an `order_key`."""
    return float(np.int64(key ^ ((key >> 63) & SIGN_CLEAR)).view(np.float64))


@register_jitable(fastmath=IN_ANY_ORDER)
def sum_of(values: FloatArray, first: int, last: int) -> float:
    """Sum of values[first:last + 1]."""
    total = 0.0
    for i in range(first, last + 1):
        total += values[i]
    return total


@register_jitable(fastmath=IN_ANY_ORDER)
def moments(z: FloatArray, i_a: int, i_b: int) -> tuple[float, float]:
    """Sum of z[i_a..i_b] and of its product with the distance from the middle, in points; ends count half."""
    half = 0.5 * (i_b - i_a)
    total = 0.0
    moment = 0.0
    for j in range(i_a, i_b + 1):
        total += z[j]
        moment += (j - i_a - half) * z[j]
    return total - 0.5 * (z[i_a] + z[i_b]), moment - 0.5 * half * (z[i_b] - z[i_a])


@register_jitable(fastmath=IN_ANY_ORDER)
def count_up_to(values: FloatArray, limit: float) -> int:
    """How many values are at most limit."""
    count = 0.0
    for i in range(values.size):
        count += 1.0 if values[i] <= limit else 0.0
    return int(count)


@register_jitable
def extremes(values: FloatArray) -> tuple[float, float]:
    """Smallest and largest value."""
    least = -LEAST_KEY
    most = LEAST_KEY
    for i in range(values.size):
        key = order_key(values[i])
        least = key if key < least else least
        most = key if key > most else most
    return float_of_key(least), float_of_key(most)


@register_jitable
def least_above(values: FloatArray, limit: float) -> float:
    """Smallest value above limit, of which there must be one."""
    threshold = order_key(limit)
    least = -LEAST_KEY
    for i in range(values.size):
        key = order_key(values[i])
        key = key if key > threshold else -LEAST_KEY
        least = key if key < least else least
    return float(float_of_key(least))


@register_jitable
def kth_smallest(values: FloatArray, k: int, least: float, most: float) -> float:
    """The value that would stand at index k were the array sorted; equals within 1e-9 m may be confused.

    least, most : the extremes. Narrows the range of values by counting, until one value is left: for a few
    hundred values several times faster than sorting or partitioning, whose branches no processor foresees.
    """
    low = least
    high = most
    below = count_up_to(values, low)  # values at most low; when they are k, the next above is the one
    above = values.size  # values at most high
    if below > k:
        return low
    while below < k and high - low > SAME_HEIGHT_M:
        share = (k + 0.5 - below) / (above - below)  # as if the values lay evenly between
        middle = low + min(max(share, 0.1), 0.9) * (high - low)
        count = count_up_to(values, middle)
        if count > k:
            high = middle
            above = count
        else:
            low = middle
            below = count
    return float(least_above(values, low))


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


@register_jitable
def is_within(values: FloatArray, lowest: float, highest: float) -> bool:
    """Whether all values lie between the bounds, ends included; NaN does not."""
    within = 0
    for i in range(values.size):
        within += 1 if (values[i] >= lowest) & (values[i] <= highest) else 0
    return within == values.size
