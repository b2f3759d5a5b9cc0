"""Kinds of path by what stands in the way, and how far a loss strays on each of them.

The figures are standard deviations of a path's own loss, stations and evening apart. Sources: 6 dB in the
clear
is ITM's spread between comparable situations (sigma_S, 8 dB near; NTIA 82-100) less its stations' part; 12
dB is the lower end of what untuned models miss single measurements by (12 to 15 dB: Phillips, Sicker and
Grunwald 2012;
not under 12 dB on fixed rural links: Phillips and others 2011; both from their abstracts); the steps between
follow how far methods part on paths of the kind (against P.1546: 6 to 9 dB nearly clear, 7 to 10 behind
one edge,
8 to 9 behind several; ITM against P.1812: 2 to 3, 5 and 8 to 9 dB).
"""

from __future__ import annotations

from enum import Enum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.machinery.parallel import over_paths
from reach.propagation import horizon_kind
from reach.propagation._horizon_kind_kernel import path_kinds_into
from reach.propagation.earth import STANDARD_K_FACTOR, effective_radius_km
from reach.propagation.path_inputs import ModelLimits, prepare
from reach.terrain.profile import ProfileBatch
from reach.units import wavelength_m

FloatArray = NDArray[np.float64]
KindArray = NDArray[np.int8]


class PathKind(Enum):
    """What stands in the way over bare ground; the value is the compiled loops' code."""

    CLEAR = horizon_kind.CLEAR  # at least 0.6 of the first Fresnel zone
    GRAZING = horizon_kind.GRAZING  # in sight, with less
    ONE_EDGE = horizon_kind.ONE_EDGE  # both horizons on the same hill
    SEVERAL_EDGES = horizon_kind.SEVERAL_EDGES  # horizons of their own
    MODELS_APART = 4  # whatever stands there, complete models contradict each other

    @property
    def words(self) -> str:
        """How the kind is said."""
        return _WORDS[self]


_WORDS = {
    PathKind.CLEAR: "clear",
    PathKind.GRAZING: "in sight, grazing",
    PathKind.ONE_EDGE: "behind one edge",
    PathKind.SEVERAL_EDGES: "behind several edges",
    PathKind.MODELS_APART: "models far apart",
}

KIND_SIGMA_DB: dict[PathKind, float] = {
    PathKind.CLEAR: 6.0,
    PathKind.GRAZING: 7.5,
    PathKind.ONE_EDGE: 8.5,
    PathKind.SEVERAL_EDGES: 10.0,
    PathKind.MODELS_APART: 12.0,
}
MODELS_APART_DB = 10.0  # ITM against P.1812's median with scatter for low antennas, both over bare ground

LIMITS = ModelLimits("the kind of a path", (1.0, 100_000.0), (0.0, 30_000.0), (1e-3, 20_000.0), 2)


def path_kinds(
    batch: ProfileBatch,
    *,
    tx_height_m: ArrayLike,
    rx_height_m: ArrayLike,
    frequency_mhz: ArrayLike,
    k_factor: float = STANDARD_K_FACTOR,
) -> KindArray:
    """(paths,) codes of `PathKind` over bare ground; heights above ground, m. Raises : OutOfRange."""
    inputs = prepare(
        batch, LIMITS, tx_height_m=tx_height_m, rx_height_m=rx_height_m, frequency_mhz=frequency_mhz
    )
    kind = np.zeros(len(inputs), dtype=np.int8)
    over_paths(
        path_kinds_into,
        inputs,
        inputs.start,
        inputs.distance_m,
        inputs.ground_m,
        inputs.tx_height_m,
        inputs.rx_height_m,
        effective_radius_km(k_factor),
        wavelength_m(inputs.frequency_mhz),
        kind,
    )
    return kind


def with_models_apart(kind: KindArray, apart_db: ArrayLike) -> KindArray:
    """The kinds, MODELS_APART where two complete models differ by more than MODELS_APART_DB, NaN aside."""
    apart = np.abs(np.asarray(apart_db, dtype=np.float64)) > MODELS_APART_DB
    return np.where(apart, np.int8(PathKind.MODELS_APART.value), kind)


def kind_sigma_db(kind: ArrayLike) -> FloatArray:
    """Standard deviation of the path's own loss, dB, for codes of `PathKind`, any shape."""
    by_code = np.array([KIND_SIGMA_DB[k] for k in PathKind])
    return np.asarray(by_code[np.asarray(kind, dtype=np.intp)])
