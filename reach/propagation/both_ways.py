"""The chance that two margins which share most of their doubt are both above zero.

The two directions of a link run over one path between the same two stations, so they stray together; only the
noise at either receiver is their own. The chance of both is therefore near that of the weaker direction and a
little below it: never their product, and never more than the smaller.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.errors import OutOfRange
from reach.propagation._joint_normal_kernel import both_above_zero_into

FloatArray = NDArray[np.float64]


def chance_of_both(first: ArrayLike, second: ArrayLike, correlation: ArrayLike) -> FloatArray:
    """`joint_normal.both_above_zero` of arrays that broadcast.

    Raises : OutOfRange for a correlation beyond -1 or 1.
    """
    a, b, rho = np.broadcast_arrays(*(np.asarray(v, dtype=np.float64) for v in (first, second, correlation)))
    bad = np.flatnonzero(np.abs(rho) > 1.0 + 1e-9)
    if bad.size:
        raise OutOfRange(f"correlation {rho.flat[bad[0]]:g} (element {bad[0]}) must lie between -1 and 1")
    out = np.empty(a.size)
    both_above_zero_into(
        np.array(a, order="C").ravel(), np.array(b, order="C").ravel(), np.array(rho, order="C").ravel(), out
    )
    return out.reshape(a.shape)
