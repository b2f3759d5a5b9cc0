"""From a model's name to the model, and which one to take when the user leaves the choice to us.

'auto' takes typical land: Rec. ITU-R P.1812's median over ground that carries houses and trees, with P.2108's
end terms and scatter that knows low antennas, on every band, for single paths and for areas alike. P.1812
itself stays as the Recommendation has it, under its own name.

Why typical land, and not bare ground:

- P.1546's curves rest on measurements. Against them, 3 to 50 km over rolling land, P.1812 over bare ground
  reads 8 dB too little loss on 2 m and 11 dB on 70 cm, ITM 10 and 8 dB; typical land 2 and 3 dB (the table in
  DEVELOPERS.md; a test holds it).
- P.1812's scatter takes over from 5 to 10 km between low antennas, where the loss then all but stops growing;
  typical land adds what NBS Technical Note 101 says low antennas lose.

Why the same below 30 MHz, where its sources start: at 30 MHz typical land reads 4 dB over P.1546's curves
(the safe side), ITM over bare ground 6 dB under them. ITM keeps within -2 to +6 dB of ground-wave theory over
smooth bare ground, but nobody lives there. Its figures below 30 MHz are marked as extrapolated.

Why one model behind two ridges, where the complete models part by up to 34 dB: no published comparison says
that either is right there. Against P.1546 the spread of typical land behind several edges is 8 to 9 dB, no
wider
than behind one; that of ITM against P.1812 is 8 to 9 dB as well, with more than 10 dB between them on 19
to 27 %
of such paths, and ITM reads too little loss at VHF (Lazaridis and others, 2013). A mean of the two would fit
nothing that was measured. So typical land stands, the spread of such a path is the untuned figure of the
literature, 12 dB (`reach.propagation.path_kind`), and `reach path` gives the other readings.

Where the models differ, and why:

- P.1812 and delta-Bullington agree to a few tenths of a dB on most paths of a club's size: at 50 % of time
  P.1812 is delta-Bullington with land cover, in a slightly flatter atmosphere (45 N/km, k 1.40, not 4/3);
  between low antennas and beyond some 100 km its troposcatter and ducting take over, where diffraction alone
  loses far more.
- ITM and P.1812 differ most behind two ridges or more: Bullington's one equivalent edge reads low there, ITM
  counts the horizon of either end. Neither is proven right: who was really heard decides.
- Bullington alone reads low over smooth ground, by what the bent Earth takes; the single edge reads low
  wherever there is more than one.
- Cascaded edges read high on finely sampled hills (see `reach.propagation.edges`).
- Only typical land sees what stands round the antennas; P.1812 and the P.526 family see land cover along the
  path; none sees skywave or sporadic E.
"""

from __future__ import annotations

from collections.abc import Callable

from reach.errors import OutOfRange
from reach.propagation.models import PathLossModel
from reach.propagation.p1812.model import P1812Settings, lapse_rate_of_k_factor
from reach.propagation.typical_land.model import Cover, TypicalLandModel

AUTO = "auto"
TYPICAL = "typical_land"


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
    from reach.propagation.p1812.model import P1812Model

    if k_factor is None:
        return P1812Model()
    return P1812Model(P1812Settings(lapse_rate_n_per_km=lapse_rate_of_k_factor(k_factor)))


def _typical_land(k_factor: float | None) -> PathLossModel:
    return typical_land(Cover.USUAL, k_factor=k_factor)


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
    TYPICAL: _typical_land,
}

MODEL_NAMES: tuple[str, ...] = tuple(_MAKERS)
# in this order, when the model asked for does not reach
SUGGESTED = (TYPICAL, "p1812", "itm", "delta_bullington")


def typical_land(cover: Cover, *, k_factor: float | None = None) -> TypicalLandModel:
    """Typical land with what stands along its paths. k_factor : see `model_named`."""
    if k_factor is None:
        return TypicalLandModel(cover)
    return TypicalLandModel(cover, P1812Settings(lapse_rate_n_per_km=lapse_rate_of_k_factor(k_factor)))


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


def choose_model(
    name: str, frequency_mhz: float, *, k_factor: float | None = None, cover: Cover = Cover.USUAL
) -> PathLossModel:
    """The model for a name and a frequency; 'auto' is typical land. k_factor : see `model_named`.

    cover : what stands along the paths of typical land; no other model asks.
    Raises : OutOfRange when the named model does not reach that frequency, naming one that does.
    """
    model = model_named(name if name != AUTO else TYPICAL, k_factor=k_factor)
    if name in (AUTO, TYPICAL):
        model = typical_land(cover, k_factor=k_factor)
    lowest, highest = model.valid_mhz
    if not lowest <= frequency_mhz <= highest:
        fits = [other for other in SUGGESTED if other != model.name and _reaches(other, frequency_mhz)]
        advice = f"; use {fits[0]} there" if fits else ""
        raise OutOfRange(
            f"frequency is {frequency_mhz:.8g} MHz; {model.name} is valid from {lowest:g} to {highest:g} MHz"
            f"{advice}"
        )
    return model


def all_models(*, k_factor: float | None = None) -> tuple[PathLossModel, ...]:
    """Every model, plainest first, for setting side by side; each one's `summary` says when to trust it."""
    return tuple(model_named(name, k_factor=k_factor) for name in MODEL_NAMES)


def _reaches(name: str, frequency_mhz: float) -> bool:
    lowest, highest = model_named(name).valid_mhz
    return lowest <= frequency_mhz <= highest
