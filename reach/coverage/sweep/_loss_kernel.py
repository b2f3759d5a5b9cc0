"""Delta-Bullington loss and clearance of the looks of a stretch, by plain vector arithmetic, compiled."""

# mypy: disable-error-code="no-untyped-def"
from __future__ import annotations

import math

import numpy as np

from reach.coverage.sweep._formulas_kernel import (
    DB,
    bullington_f32,
    first_term_f32,
    least_clearance_step,
    lowest_point_step,
)
from reach.coverage.sweep._log_kernel import log2_f32
from reach.coverage.sweep._tuples_kernel import apart

_F0 = np.float32(0.0)
_F1 = np.float32(1.0)
_F2 = np.float32(2.0)
_HALF = np.float32(0.5)
_TINY = np.float32(1e-12)


@apart
def loss_stretch(count, cell_m, column_m, tx_m, link, look, result):
    """Delta-Bullington basic transmission loss and clearance (in first-Fresnel radii) of `count`
    looks.

    Free space is taken to the cell's centre, diffraction where the radial passes it.
    Source : P.526-15, 4.5; P.1812-7, eqs (22) to (27), (37) to (39), (85) to (91).

    Longer than the rest: straight arithmetic on one column after another that the compiler turns into
    vectors as long as nothing leaves the loop.

    Smooth Earth, least clearance in metres: m b^3 - (m + 1) b + c = 0, whose root eq. (24c) writes with an
    arc cosine. The left side falls and is convex up to that root, so Newton's steps from 0 reach it from
    one side. Largest nu over the zero profile in line of sight: with w = d2/d1 seen from the higher
    antenna, where hi w - lo = bulge w(1 - w)/(1 + w)^2, convex below w = 1, so Newton's steps from 1 close
    in from one side; three leave 0.011 dB at most on rough, smooth and coastal ground from 28 to 5000 MHz.
    """
    radius_m = np.float32(link.radius_m)
    wavelength_m = np.float32(link.wavelength_m)
    free_space_db = link.free_space_db
    nu_factor = _F2 / (wavelength_m * column_m)
    curvature_m = column_m * column_m / (_F2 * radius_m)
    bend = math.sqrt(curvature_m)
    per_radius = np.float32(-1.0 / math.sqrt(2.0))
    cell_km = cell_m * np.float32(1e-3)
    log_earth = log2_f32(radius_m * np.float32(1e-3))
    wanted_factor = np.float32(1.0 / 0.552) / math.sqrt(wavelength_m)
    for i in range(count):
        x = look.column[i]
        rx_m = look.rx_m[i]
        per_x = _F1 / x
        distance_m = x * column_m
        km = distance_m * np.float32(1e-3)
        height = look.ground[i]
        p = look.product[i]
        zone = x * nu_factor
        size = math.sqrt(abs(p) * zone)
        nu = size if p >= _F0 else -size
        result.clearance[i] = nu * per_radius
        actual = bullington_f32(nu, km)
        level = (height + rx_m - tx_m) * per_x
        ahead = look.from_tx[i] - level
        behind = look.from_rx[i] + level
        above = look.obstruction[i]
        share = above / (ahead + behind) if above > _F0 else _F0
        tx_eff = tx_m - min(_F2 * look.sum_one[i] - look.sum_two[i] - share * ahead, _F0)
        rx_eff = height + rx_m - min(look.sum_two[i] - look.sum_one[i] - share * behind, height)
        hi = max(tx_eff, rx_eff)
        lo = min(tx_eff, rx_eff)
        roots = math.sqrt(hi) + math.sqrt(lo)
        bulge = curvature_m * x * x
        sight = bend * x < roots
        # Bullington over the zero profile
        direct = (lo - hi) * per_x - curvature_m * x
        front = -_F2 * bend * math.sqrt(hi)
        back = _F2 * bend * (bend * x - math.sqrt(lo))
        w = least_clearance_step(_F1, hi, lo, bulge)
        w = least_clearance_step(w, hi, lo, bulge)
        w = least_clearance_step(w, hi, lo, bulge)
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
        b = lowest_point_step(b, m, c)
        b = lowest_point_step(b, m, c)
        d1 = _HALF * (_F1 + min(b, _F1))
        d2 = _F1 - d1
        lowest = hi * d2 + lo * d1 - bulge * d1 * d2
        ratio = lowest * wanted_factor / math.sqrt(d1 * d2 * distance_m + _TINY)
        log_grazing = _F2 * log2_f32(distance_m / roots) - np.float32(1.0 + math.log2(1000.0))
        term = first_term_f32(
            km,
            hi,
            lo,
            log_grazing if sight else log_earth,
            link.x_factor,
            link.y_factor,
            link.log_admittance,
            link.beta_by_formula,
        )
        sphere = max(_F1 - ratio, _F0) * max(term, _F0) if sight else term
        rise = (height + rx_m - tx_m) * np.float32(1e-3)
        far_square = look.square[i] * cell_km * cell_km
        free = free_space_db + _HALF * DB * log2_f32(far_square + rise * rise)
        result.free_db[i] = free
        result.loss_db[i] = free + actual + max(sphere - smooth, _F0)
