"""From a model's name to the model, and which one to take when the user leaves the choice to us.

'auto' takes Rec. ITU-R P.1812 from 30 MHz up: it is the ITU's own method for terrestrial services in VHF and
UHF, counts diffraction, ducting, troposcatter and clutter, and states for what share of time and places its
figure holds. Below 30 MHz, where P.1812 ends, it takes the Irregular Terrain Model (ITM), valid from 20 MHz.

Where the models differ, and why:

- P.1812 and delta-Bullington agree to a few tenths of a dB on most paths of a club's size: at 50 % of time
  P.1812 is delta-Bullington with land cover, in a slightly flatter atmosphere (45 N/km, k 1.40, not 4/3);
  beyond some 100 km its troposcatter and ducting take over, where diffraction alone loses far more.
- ITM and P.1812 differ most behind two ridges or more: Bullington's one equivalent edge reads low there,
  ITM counts the horizon of either end. On the 2 m paths of `reach demo` ITM's loss lies 16 dB below to 34 dB
  above P.1812's, within 10 dB on seven paths in ten. Neither is proven right: who was really heard decides.
- Bullington alone reads low over smooth ground, by what the bent Earth takes; the single edge reads low
  wherever there is more than one.
- Cascaded edges read high on finely sampled hills (see `reach.propagation.edges`).
- Only P.1812 and the P.526 family see land cover; none sees skywave or sporadic E.
"""

from __future__ import annotations

from collections.abc import Callable

from reach.errors import OutOfRange
from reach.propagation.models import PathLossModel

AUTO = "auto"
P1812_LOWEST_MHZ = 30.0


def _free_space(k_factor: float | None) -> PathLossModel:
    from reach.propagation.free_space import FreeSpaceModel

    return FreeSpaceModel()


def _single_edge(k_factor: float | None) -> PathLossModel:
    from reach.propagation.diffraction_models import SingleEdgeModel

    return SingleEdgeModel() if k_factor is None else SingleEdgeModel(k_factor)


def _cascaded_edges(k_factor: float | None) -> PathLossModel:
    from reach.propagation.diffraction_models import CascadedEdgesModel

    return CascadedEdgesModel() if k_factor is None else CascadedEdgesModel(k_factor)


def _bullington(k_factor: float | None) -> PathLossModel:
    from reach.propagation.diffraction_models import BullingtonModel

    return BullingtonModel() if k_factor is None else BullingtonModel(k_factor)


def _delta_bullington(k_factor: float | None) -> PathLossModel:
    from reach.propagation.diffraction_models import DeltaBullingtonModel

    return DeltaBullingtonModel() if k_factor is None else DeltaBullingtonModel(k_factor)


def _p1812(k_factor: float | None) -> PathLossModel:
    from reach.propagation.p1812.model import P1812Model, P1812Settings, lapse_rate_of_k_factor

    if k_factor is None:
        return P1812Model()
    return P1812Model(P1812Settings(lapse_rate_n_per_km=lapse_rate_of_k_factor(k_factor)))


def _itm(k_factor: float | None) -> PathLossModel:
    from reach.propagation.itm.model import ItmModel

    return ItmModel()


_MAKERS: dict[str, Callable[[float | None], PathLossModel]] = {
    "free_space": _free_space,
    "single_edge": _single_edge,
    "cascaded_edges": _cascaded_edges,
    "bullington": _bullington,
    "delta_bullington": _delta_bullington,
    "p1812": _p1812,
    "itm": _itm,
}

MODEL_NAMES: tuple[str, ...] = tuple(_MAKERS)
SUGGESTED = ("p1812", "itm", "delta_bullington")  # in this order, when the model asked for does not reach


def model_named(name: str, *, k_factor: float | None = None) -> PathLossModel:
    """The model of that name with its default settings.

    k_factor : None leaves each model its standard atmosphere (4/3; P.1812: a lapse rate of 45 N/km, k 1.40).
        ITM has its own surface refractivity and free space knows none: they do not change.
    Raises : OutOfRange listing the names there are.
    """
    if name not in _MAKERS:
        raise OutOfRange(f'"{name}" is not a path-loss model; choose one of {AUTO}, {", ".join(MODEL_NAMES)}')
    if k_factor is not None and not 0.3 <= k_factor <= 10.0:
        raise OutOfRange(
            f"k-factor is {k_factor:g}; the valid range is 0.3 to 10 (4/3 in a standard atmosphere)"
        )
    return _MAKERS[name](k_factor)


def choose_model(name: str, frequency_mhz: float, *, k_factor: float | None = None) -> PathLossModel:
    """The model for a name and a frequency; 'auto' decides by frequency. k_factor : see `model_named`.

    Raises : OutOfRange when the named model does not reach that frequency, naming one that does.
    """
    if name == AUTO:
        name = "p1812" if frequency_mhz >= P1812_LOWEST_MHZ else "itm"
    model = model_named(name, k_factor=k_factor)
    lowest, highest = model.valid_mhz
    if not lowest <= frequency_mhz <= highest:
        fits = [other for other in SUGGESTED if other != name and _reaches(other, frequency_mhz)]
        advice = f"; use {fits[0]} there" if fits else ""
        raise OutOfRange(
            f"frequency is {frequency_mhz:g} MHz; {name} is valid from {lowest:g} to {highest:g} MHz{advice}"
        )
    return model


def all_models(*, k_factor: float | None = None) -> tuple[PathLossModel, ...]:
    """Every model, plainest first, for setting side by side; each one's `summary` says when to trust it."""
    return tuple(model_named(name, k_factor=k_factor) for name in MODEL_NAMES)


def _reaches(name: str, frequency_mhz: float) -> bool:
    lowest, highest = model_named(name).valid_mhz
    return lowest <= frequency_mhz <= highest
