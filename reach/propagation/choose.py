"""From a model's name to the model, and which one to take when the user leaves the choice to us.

'auto' takes Rec. ITU-R P.1812 from 30 MHz up: it is the ITU's own method for terrestrial point-to-area services
in VHF and UHF, counts diffraction, ducting, troposcatter and clutter, and states what share of time and places
its figure holds for. Below 30 MHz, where P.1812 ends, it takes the Longley-Rice model (ITM), valid from 20 MHz.
"""

from __future__ import annotations

from collections.abc import Callable

from reach.errors import OutOfRange
from reach.propagation.models import PathLossModel

AUTO = "auto"
P1812_LOWEST_MHZ = 30.0


def _free_space() -> PathLossModel:
    from reach.propagation.free_space import FreeSpaceModel

    return FreeSpaceModel()


def _single_edge() -> PathLossModel:
    from reach.propagation.edges import SingleEdgeModel

    return SingleEdgeModel()


def _cascaded_edges() -> PathLossModel:
    from reach.propagation.edges import CascadedEdgesModel

    return CascadedEdgesModel()


def _bullington() -> PathLossModel:
    from reach.propagation.edges import BullingtonModel

    return BullingtonModel()


def _delta_bullington() -> PathLossModel:
    from reach.propagation.delta_bullington import DeltaBullingtonModel

    return DeltaBullingtonModel()


def _p1812() -> PathLossModel:
    from reach.propagation.p1812.model import P1812Model

    return P1812Model()


def _itm() -> PathLossModel:
    from reach.propagation.itm.model import ItmModel

    return ItmModel()


_MAKERS: dict[str, Callable[[], PathLossModel]] = {
    "free_space": _free_space,
    "single_edge": _single_edge,
    "cascaded_edges": _cascaded_edges,
    "bullington": _bullington,
    "delta_bullington": _delta_bullington,
    "p1812": _p1812,
    "itm": _itm,
}

MODEL_NAMES: tuple[str, ...] = tuple(_MAKERS)


def model_named(name: str) -> PathLossModel:
    """The model of that name with its default settings.

    Raises : OutOfRange listing the names there are.
    """
    if name not in _MAKERS:
        raise OutOfRange(f'"{name}" is not a path-loss model; choose one of auto, {", ".join(MODEL_NAMES)}')
    return _MAKERS[name]()


def choose_model(name: str, frequency_mhz: float) -> PathLossModel:
    """The model for a name and a frequency; 'auto' decides by frequency.

    Raises : OutOfRange when the named model does not reach that frequency, naming one that does.
    """
    if name == AUTO:
        name = "p1812" if frequency_mhz >= P1812_LOWEST_MHZ else "itm"
    model = model_named(name)
    lowest, highest = model.valid_mhz
    if not lowest <= frequency_mhz <= highest:
        fits = [other for other in ("p1812", "itm", "delta_bullington") if other != name and _reaches(other, frequency_mhz)]
        advice = f"; use {fits[0]} there" if fits else ""
        raise OutOfRange(
            f"frequency is {frequency_mhz:g} MHz; {name} is valid from {lowest:g} to {highest:g} MHz{advice}"
        )
    return model


def all_models() -> tuple[PathLossModel, ...]:
    """Every model with default settings, plainest first, for setting side by side; `summary` says when to trust it."""
    return tuple(model_named(name) for name in MODEL_NAMES)


def _reaches(name: str, frequency_mhz: float) -> bool:
    lowest, highest = model_named(name).valid_mhz
    return lowest <= frequency_mhz <= highest
