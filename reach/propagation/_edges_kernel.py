# mypy: allow-untyped-defs
"""Loops over paths for the edge models.

Inputs are finite (checked by the caller), so the no-NaN assumption holds.
"""

from numba import njit

from reach.machinery.compiled import fresh
from reach.propagation.bullington import bullington_loss_db
from reach.propagation.edges import cascaded_edges_loss_db, single_edge_loss_db
from reach.propagation.profile_scan import path_surface

FAST = {"nnan", "nsz", "reassoc", "contract", "arcp"}


@fresh
@njit(nogil=True, error_model="numpy", fastmath=FAST)
def single_edge_paths(
    first,
    last,
    start,
    distance_m,
    ground_m,
    clutter_m,
    tx_height_m,
    rx_height_m,
    radius_km,
    wavelength_m,
    loss_db,
):
    """Fill loss_db[first:last] with `single_edge_loss_db`."""
    for path in range(first, last):
        a = start[path]
        b = start[path + 1]
        tx_asl_m = ground_m[a] + tx_height_m[path]
        rx_asl_m = ground_m[b - 1] + rx_height_m[path]
        loss_db[path] = single_edge_loss_db(
            distance_m[a:b],
            path_surface(ground_m[a:b], clutter_m[a:b]),
            tx_asl_m,
            rx_asl_m,
            radius_km,
            wavelength_m[path],
        )


@fresh
@njit(nogil=True, error_model="numpy", fastmath=FAST)
def cascaded_edges_paths(
    first,
    last,
    start,
    distance_m,
    ground_m,
    clutter_m,
    tx_height_m,
    rx_height_m,
    radius_km,
    wavelength_m,
    loss_db,
):
    """Fill loss_db[first:last] with `cascaded_edges_loss_db`."""
    for path in range(first, last):
        a = start[path]
        b = start[path + 1]
        tx_asl_m = ground_m[a] + tx_height_m[path]
        rx_asl_m = ground_m[b - 1] + rx_height_m[path]
        loss_db[path] = cascaded_edges_loss_db(
            distance_m[a:b],
            path_surface(ground_m[a:b], clutter_m[a:b]),
            tx_asl_m,
            rx_asl_m,
            radius_km,
            wavelength_m[path],
        )


@fresh
@njit(nogil=True, error_model="numpy", fastmath=FAST)
def bullington_paths(
    first,
    last,
    start,
    distance_m,
    ground_m,
    clutter_m,
    tx_height_m,
    rx_height_m,
    radius_km,
    wavelength_m,
    loss_db,
):
    """Fill loss_db[first:last] with `bullington_loss_db`."""
    for path in range(first, last):
        a = start[path]
        b = start[path + 1]
        tx_asl_m = ground_m[a] + tx_height_m[path]
        rx_asl_m = ground_m[b - 1] + rx_height_m[path]
        loss_db[path] = bullington_loss_db(
            distance_m[a:b],
            path_surface(ground_m[a:b], clutter_m[a:b]),
            tx_asl_m,
            rx_asl_m,
            radius_km,
            wavelength_m[path],
        )
