"""Which model a name and a frequency give."""

from __future__ import annotations

import numpy as np
import pytest

from reach.errors import OutOfRange
from reach.propagation.choose import MODEL_NAMES, all_models, choose_model, model_named
from reach.propagation.models import LandSight, PathLossModel
from reach.propagation.typical_land.model import Cover, TypicalLandModel
from reach.terrain.profile import Profile


@pytest.mark.parametrize("frequency_mhz", [28.5, 30.0, 146.0, 446.0])
def test_auto_is_one_model_on_every_band(frequency_mhz: float) -> None:
    assert choose_model("auto", frequency_mhz) == TypicalLandModel(Cover.USUAL)
    assert choose_model("auto", frequency_mhz, cover=Cover.BARE) == TypicalLandModel(Cover.BARE)
    assert choose_model("itm", frequency_mhz, cover=Cover.BARE).name == "itm"


def test_a_model_that_does_not_reach_names_one_that_does() -> None:
    with pytest.raises(
        OutOfRange,
        match=r"frequency is 28\.5 MHz; p1812 is valid from 30 to 6000 MHz; use typical_land there",
    ):
        choose_model("p1812", 28.5)


def test_an_unknown_name_lists_the_names() -> None:
    with pytest.raises(
        OutOfRange, match=r'"plane_earth" is not a path-loss model; choose one of auto, free_space'
    ):
        choose_model("plane_earth", 146.0)


@pytest.mark.parametrize("name", MODEL_NAMES)
def test_every_model_keeps_the_contract(name: str) -> None:
    model = model_named(name)
    assert isinstance(model, PathLossModel)
    assert model.name == name
    assert model.source and model.summary.count(".") >= 1
    assert len(model.summary) < 140
    lowest, highest = model.valid_mhz
    assert lowest < 144.0 < highest
    assert model.limits.frequency_mhz == model.valid_mhz
    assert isinstance(model.sees, LandSight) and isinstance(model.complete, bool)
    profile = Profile.of(np.linspace(0.0, 20e3, 201), np.zeros(201))
    found = model.loss(profile, tx_height_m=30.0, rx_height_m=10.0, frequency_mhz=146.0)
    assert 90.0 < found.free_space_db < 110.0
    assert found.loss_db > found.free_space_db - 3.0


def test_all_models_lists_each_once_plainest_first() -> None:
    assert tuple(model.name for model in all_models()) == MODEL_NAMES
    assert MODEL_NAMES[0] == "free_space"


def test_k_factor_reaches_the_models_that_bend_the_earth() -> None:
    profile = Profile.of(np.linspace(0.0, 60e3, 201), np.zeros(201))
    link = {"tx_height_m": 30.0, "rx_height_m": 10.0, "frequency_mhz": 146.0}
    for name in ("single_edge", "cascaded_edges", "bullington", "delta_bullington", "p1812", "typical_land"):
        bent = model_named(name, k_factor=1.0).loss(profile, **link).loss_db
        flatter = model_named(name, k_factor=2.0).loss(profile, **link).loss_db
        assert bent > flatter + 1.0, name
    with pytest.raises(OutOfRange, match=r"k-factor is 0\.1; the valid range is 0\.3 to 10"):
        model_named("bullington", k_factor=0.1)
