"""One path from profile to loss, every intermediate value kept. Rec. ITU-R P.1812-7, section 4."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

from reach.propagation.p1812.combine import Combination, combination
from reach.propagation.p1812.diffraction import Diffraction, diffraction
from reach.propagation.p1812.ducting import ducting_loss_db
from reach.propagation.p1812.geometry import Horizons, SmoothSurfaces, horizons, smooth_surfaces
from reach.propagation.p1812.line_of_sight import LineOfSight, line_of_sight
from reach.propagation.p1812.parameters import PathZones, anomalous_time_percent, inland_share_tau, path_zones
from reach.propagation.p1812.troposcatter import troposcatter_loss_db
from reach.propagation.p1812.variability import location_loss_db
from reach.propagation.profile_scan import path_surface
from reach.propagation.smooth_earth import DiffractionConstants

SHORTEST_KM = 0.25  # P.1812-7, scope; below, free space and diffraction only

FloatArray = NDArray[np.float64]


class PathSettings(NamedTuple):
    """What holds for every path of a run. coast_km below zero: take it from the zones."""

    effective_radius_km: float
    sea_level_refractivity_n: float
    time_percent: float
    location_percent: float
    tx_coast_km: float
    rx_coast_km: float
    constants: DiffractionConstants


class P1812Path(NamedTuple):
    """Everything P.1812 works out for one path: losses in dB, angles in mrad, beta0 in per cent."""

    loss_db: float
    location_db: float
    beta0_percent: float
    zones: PathZones
    horizons: Horizons
    surfaces: SmoothSurfaces
    sight: LineOfSight
    diffraction: Diffraction
    ducting_db: float
    troposcatter_db: float
    combination: Combination


class P1812Mechanisms(NamedTuple):
    """The single mechanisms of a path, before they are put together; fields as in P1812Path."""

    beta0_percent: float
    zones: PathZones
    horizons: Horizons
    surfaces: SmoothSurfaces
    sight: LineOfSight
    diffraction: Diffraction
    ducting_db: float
    troposcatter_db: float


@register_jitable
def p1812_mechanisms(
    distance_m: FloatArray,
    ground_m: FloatArray,
    clutter_m: FloatArray,
    zone: NDArray[np.int8],
    latitude_deg: float,
    tx_height_m: float,
    rx_height_m: float,
    frequency_ghz: float,
    polarisation: int,
    settings: PathSettings,
) -> P1812Mechanisms:
    """P1812Mechanisms of a profile; arguments as `p1812_path`. Source : P.1812-7, 4.2 to 4.5."""
    n = distance_m.size
    d_km = distance_m[n - 1] * 1e-3
    tx_asl_m = ground_m[0] + tx_height_m
    rx_asl_m = ground_m[n - 1] + rx_height_m
    p = settings.time_percent
    radius_km = settings.effective_radius_km
    found = path_zones(distance_m, zone)
    zones = PathZones(
        found.sea_share,
        found.longest_land_km,
        found.longest_inland_km,
        found.tx_coast_km if settings.tx_coast_km < 0.0 else settings.tx_coast_km,
        found.rx_coast_km if settings.rx_coast_km < 0.0 else settings.rx_coast_km,
    )
    tau = inland_share_tau(zones.longest_inland_km)
    beta0 = anomalous_time_percent(zones.longest_land_km, tau, latitude_deg)
    horizon = horizons(distance_m, ground_m, tx_asl_m, rx_asl_m, radius_km)
    surfaces = smooth_surfaces(distance_m, ground_m, tx_asl_m, rx_asl_m, horizon.tx_point, horizon.rx_point)
    sight = line_of_sight(
        d_km, tx_asl_m, rx_asl_m, frequency_ghz, horizon.tx_horizon_km, horizon.rx_horizon_km, p, beta0
    )
    bent = diffraction(
        distance_m,
        path_surface(ground_m, clutter_m),
        tx_asl_m,
        rx_asl_m,
        surfaces.hstd_m,
        surfaces.hsrd_m,
        radius_km,
        frequency_ghz,
        zones.sea_share,
        polarisation,
        settings.constants,
        p,
        beta0,
    )
    scatter_db = troposcatter_loss_db(
        d_km, horizon.path_angle_mrad, frequency_ghz, settings.sea_level_refractivity_n, p
    )
    duct_db = ducting_loss_db(
        zones, horizon, surfaces, d_km, tx_asl_m, rx_asl_m, radius_km, frequency_ghz, tau, beta0, p
    )
    return P1812Mechanisms(beta0, zones, horizon, surfaces, sight, bent, duct_db, scatter_db)


@register_jitable
def p1812_together(
    found: P1812Mechanisms, d_km: float, troposcatter_db: float, time_percent: float
) -> Combination:
    """Combination of a path's mechanisms, its scatter loss as given. Source : P.1812-7, 4.6."""
    together: Combination = combination(
        d_km,
        found.horizons.path_angle_mrad,
        found.zones.sea_share,
        found.sight,
        found.diffraction,
        found.ducting_db,
        troposcatter_db,
        time_percent,
        found.beta0_percent,
    )
    return together


@register_jitable
def p1812_path(
    distance_m: FloatArray,
    ground_m: FloatArray,
    clutter_m: FloatArray,
    zone: NDArray[np.int8],
    latitude_deg: float,
    tx_height_m: float,
    rx_height_m: float,
    frequency_ghz: float,
    polarisation: int,
    sigma_db: float,
    entry_median_db: float,
    settings: PathSettings,
) -> P1812Path:
    """P1812Path of a profile: arrays (n,), n >= 3; antenna heights above ground, m; polarisation 0 H, 1 V.

    sigma_db, entry_median_db : spread over places (with building entry) and median entry loss.
    Source : P.1812-7, section 4. On paths under 0.25 km, which the Recommendation leaves out, the loss is
        that of free space and median diffraction; the other parts are filled in all the same.
    """
    d_km = distance_m[distance_m.size - 1] * 1e-3
    found = p1812_mechanisms(
        distance_m,
        ground_m,
        clutter_m,
        zone,
        latitude_deg,
        tx_height_m,
        rx_height_m,
        frequency_ghz,
        polarisation,
        settings,
    )
    together = p1812_together(found, d_km, found.troposcatter_db, settings.time_percent)
    location_db = location_loss_db(
        settings.location_percent, sigma_db, entry_median_db, zone[distance_m.size - 1] == 1
    )
    if d_km < SHORTEST_KM:
        loss_db = max(found.sight.free_space_db, together.lbd50_db + location_db)
    else:
        loss_db = max(found.sight.time_db, together.lbc_db + location_db)  # (69)
    return P1812Path(
        loss_db,
        location_db,
        found.beta0_percent,
        found.zones,
        found.horizons,
        found.surfaces,
        found.sight,
        found.diffraction,
        found.ducting_db,
        found.troposcatter_db,
        together,
    )
