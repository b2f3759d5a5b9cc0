# mypy: disable-error-code="no-any-return"
# (a formula that numba can compile looks untyped to mypy)
"""Two normal variables that stray together: the chance that both are above zero."""

from __future__ import annotations

import math

import numpy as np
from numba.extending import register_jitable

_AT, _WEIGHT = np.polynomial.legendre.leggauss(20)
_X, _W = 0.5 * (_AT + 1.0), 0.5 * _WEIGHT  # on 0 to 1
_TINY = 1e-200  # stands for a margin of exactly zero


@register_jitable
def _below(x: float) -> float:
    return 0.5 * math.erfc(-x / math.sqrt(2.0))


@register_jitable
def _t_within_one(h: float, a: float) -> float:
    total = 0.0
    for i in range(_X.size):
        x2 = 1.0 + (a * _X[i]) ** 2
        total += _W[i] * math.exp(-0.5 * h * h * x2) / x2
    return a * total / (2.0 * math.pi)


@register_jitable
def owens_t(h: float, a: float) -> float:
    """Owen's T(h, a): chance that a standard normal pair lies beyond h and between 0 and a times the first.

    Source : D. B. Owen (1956), Annals of Mathematical Statistics 27; beyond a = 1 by his eq. (2.3), within by
        20-point quadrature. Check : against scipy, within 1e-12.
    """
    h = abs(h)
    steep = abs(a)
    if steep <= 1.0:
        value = _t_within_one(h, steep)
    else:
        value = (
            0.5 * (_below(h) + _below(steep * h))
            - _below(h) * _below(steep * h)
            - _t_within_one(steep * h, 1.0 / steep)
        )
    return value if a >= 0.0 else -value


@register_jitable
def both_above_zero(first: float, second: float, correlation: float) -> float:
    """Chance that two normal margins are both above zero; each given in its own standard deviations.

    correlation : of the two, -1 to 1 (1: they stray as one, and the smaller decides). NaN stays NaN.
    Source : Owen (1956), eq. (2.1).
    """
    if correlation >= 1.0 - 1e-12:
        return _below(min(first, second))
    if correlation <= -1.0 + 1e-12:
        return max(_below(first) + _below(second) - 1.0, 0.0)
    h = min(first, second)  # in one order, so that either direction first gives the very same number
    k = max(first, second)
    h = h if h != 0.0 else _TINY
    k = k if k != 0.0 else _TINY
    if math.isinf(h) or math.isinf(k):
        return _below(h) * _below(k)
    root = math.sqrt(1.0 - correlation * correlation)
    value = (
        0.5 * (_below(h) + _below(k))
        - owens_t(h, (k / h - correlation) / root)
        - owens_t(k, (h / k - correlation) / root)
    )
    if h * k < 0.0 or (h * k == 0.0 and (h < 0.0) != (k < 0.0)):
        value -= 0.5
    return min(max(value, 0.0), _below(min(h, k)))
