# mypy: allow-untyped-defs
"""Loop over paths for the steepest slopes seen from both ends of each."""

from numba import njit

from reach.machinery.compiled import fresh


@fresh
@njit(nogil=True, error_model="numpy")
def steepest_slopes(
    first, last, start, distance_m, ground_m, clutter_m, tx_height_m, rx_height_m, curved_m, from_tx, from_rx
):
    """Fill [first:last] of from_tx and from_rx: the largest (h - h0)/d - d/curved_m along each path.

    The other end counts with its antenna, points between with what stands there; curved_m : twice the
    effective radius of the Earth.
    """
    for path in range(first, last):
        a = start[path]
        b = start[path + 1] - 1
        tx_asl_m = ground_m[a] + tx_height_m[path]
        rx_asl_m = ground_m[b] + rx_height_m[path]
        whole_m = distance_m[b] - distance_m[a]
        rise = (rx_asl_m - tx_asl_m) / whole_m
        there = rise - whole_m / curved_m
        back = -rise - whole_m / curved_m
        for i in range(a + 1, b):
            surface_m = ground_m[i] + clutter_m[i]
            from_tx_m = distance_m[i] - distance_m[a]
            to_rx_m = distance_m[b] - distance_m[i]
            there = max(there, (surface_m - tx_asl_m) / from_tx_m - from_tx_m / curved_m)
            back = max(back, (surface_m - rx_asl_m) / to_rx_m - to_rx_m / curved_m)
        from_tx[path] = there
        from_rx[path] = back
