"""One path by the package itmlogic 1.2 (PyPI), one call; loaded by the checks and the speed measure."""

from __future__ import annotations

import math
from collections.abc import Sequence

from itmlogic.misc.qerfi import qerfi
from itmlogic.preparatory_subroutines.qlrpfl import qlrpfl
from itmlogic.preparatory_subroutines.qlrps import qlrps
from itmlogic.statistics.avar import avar


def itmlogic_loss_db(
    ground_m: Sequence[float],
    *,
    spacing_m: float,
    tx_height_m: float,
    rx_height_m: float,
    frequency_mhz: float,
    vertical: bool,
    climate: int,
    surface_refractivity_n_units: float,
    relative_permittivity: float,
    conductivity_s_per_m: float,
    mdvar: int,
    shares: tuple[float, float, float] = (0.5, 0.5, 0.5),
) -> tuple[float, float]:
    """Basic transmission loss, dB, and terrain irregularity, m. shares : of time, places and situations."""
    intervals = len(ground_m) - 1
    skipped = int(0.1 * intervals)
    middle = ground_m[skipped : intervals - skipped + 1]
    prop = {
        "fmhz": frequency_mhz,
        "hg": [tx_height_m, rx_height_m],
        "pfl": [intervals, spacing_m, *ground_m],
        "klim": climate,
        "klimx": 0,
        "mdvarx": mdvar,
        "lvar": 5,
        "kwx": 0,
    }
    prop["wn"], prop["gme"], prop["ens"], prop["zgnd"] = qlrps(
        frequency_mhz,
        sum(middle) / len(middle),
        surface_refractivity_n_units,
        int(vertical),
        relative_permittivity,
        conductivity_s_per_m,
    )
    prop = qlrpfl(prop)
    free_space_db = 20.0 * math.log10(2.0 * prop["wn"] * prop["dist"])
    z_time, z_place, z_situation = qerfi(list(shares))
    attenuation_db, prop = avar(z_time, z_place, z_situation, prop)
    return float(free_space_db + attenuation_db), float(prop["dh"])
