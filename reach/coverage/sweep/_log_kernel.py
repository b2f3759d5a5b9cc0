"""Base-2 logarithm and power in float32 for compiled loops: plain arithmetic, so the compiler can use
vector units.

Polynomials fitted here by Chebyshev interpolation when the module is loaded; degree chosen so that
20 log10 is good to 2e-5 dB (tests/coverage/test_log_kernel.py holds both against numpy).
"""

# mypy: disable-error-code="no-untyped-def"
from __future__ import annotations

import math

import numpy as np
from numba import njit

_ROOT_HALF_BITS = np.int32(0x3F3504F3)  # float32 nearest sqrt(1/2), as its bit pattern


def _log2_coefficients(degree: int) -> tuple[np.float32, ...]:
    """log2(1 + f)/f on [sqrt(1/2) - 1, sqrt(2) - 1], lowest power first."""
    low, high = math.sqrt(0.5) - 1.0, math.sqrt(2.0) - 1.0

    def target(f: np.ndarray) -> np.ndarray:
        safe = np.where(np.abs(f) < 1e-9, 1e-9, f)
        return np.asarray(np.log1p(safe) / (safe * math.log(2.0)))

    series = np.polynomial.chebyshev.Chebyshev.interpolate(target, degree, domain=[low, high])
    return tuple(np.float32(c) for c in series.convert(kind=np.polynomial.Polynomial).coef)


def _exp2_coefficients(degree: int) -> tuple[np.float32, ...]:
    """2**f on [-1/2, 1/2], lowest power first."""
    series = np.polynomial.chebyshev.Chebyshev.interpolate(np.exp2, degree, domain=[-0.5, 0.5])
    return tuple(np.float32(c) for c in series.convert(kind=np.polynomial.Polynomial).coef)


_L0, _L1, _L2, _L3, _L4, _L5, _L6, _L7 = _log2_coefficients(7)
_E0, _E1, _E2, _E3, _E4, _E5 = _exp2_coefficients(5)
_MANTISSA_BITS = np.int32(23)
_BIAS = np.int32(127)
_ONE = np.float32(1.0)
_HALF = np.float32(0.5)
_LOWEST = np.float32(-126.0)


@njit(error_model="numpy")
def log2_f32(x):
    """log2 of a positive normal float32."""
    bits = np.float32(x).view(np.int32)
    e = np.int32(np.int32(bits - _ROOT_HALF_BITS) >> _MANTISSA_BITS)
    f = np.int32(bits - np.int32(e << _MANTISSA_BITS)).view(np.float32) - _ONE
    p = _L7
    p = p * f + _L6
    p = p * f + _L5
    p = p * f + _L4
    p = p * f + _L3
    p = p * f + _L2
    p = p * f + _L1
    p = p * f + _L0
    return np.float32(e) + p * f


@njit(error_model="numpy")
def exp2_f32(x):
    """2**x in float32 for x below 127; below -126 the value at -126."""
    y = max(x, _LOWEST)
    whole = np.floor(y + _HALF)
    n = np.int32(whole)
    f = y - whole
    p = _E5
    p = p * f + _E4
    p = p * f + _E3
    p = p * f + _E2
    p = p * f + _E1
    p = p * f + _E0
    return p * np.int32(np.int32(n + _BIAS) << _MANTISSA_BITS).view(np.float32)
