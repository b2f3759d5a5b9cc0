"""The float32 logarithm and power behind the sweep, against numpy in double precision."""

from __future__ import annotations

import numpy as np

from reach.coverage.sweep._log_kernel import exp2_f32, log2_f32


def test_logarithm_is_good_to_a_hundred_thousandth_of_a_decibel() -> None:
    x = np.exp(np.random.default_rng(1).uniform(-60.0, 60.0, 20_000)).astype(np.float32)
    x = np.concatenate([x, np.float32([1.0, 2.0, 0.5, np.sqrt(0.5), 0.9999999, 1.0000001])])
    found = np.array([log2_f32(v) for v in x])
    wanted = np.log2(x.astype(np.float64))
    # float32 itself resolves 4e-6 near 60, so the error grows with the size of the logarithm
    assert np.max(np.abs(found - wanted) / np.maximum(np.abs(wanted), 16.0)) < 1.5e-7
    assert log2_f32(np.float32(1.0)) == 0.0


def test_power_is_good_to_float32() -> None:
    x = np.random.default_rng(2).uniform(-120.0, 120.0, 20_000).astype(np.float32)
    found = np.array([exp2_f32(v) for v in x])
    assert np.max(np.abs(found / np.exp2(x.astype(np.float64)) - 1.0)) < 4e-7


def test_power_of_a_very_small_exponent_is_next_to_nothing() -> None:
    assert 0.0 <= exp2_f32(np.float32(-1e9)) < 2e-38
