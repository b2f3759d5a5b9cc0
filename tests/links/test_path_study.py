"""One path looked at closely agrees with the survey of the whole net."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from reach.errors import InputProblem
from reach.links.path_study import study_path
from reach.links.repeater_survey import survey_repeater
from reach.links.survey import survey_simplex
from reach.notes import texts
from reach.stations import Antenna, Channel, Net
from reach.terrain.tiles import Terrain


def test_between_members(club: Net, terrain: Terrain, channel: Channel) -> None:
    network = survey_simplex(club, terrain, channel)
    study = study_path(club, terrain, left="qk1e", right="QK1H")
    # the survey walked this path from QK1H, so agreement is to rounding of the sample points
    assert study.there.margin_db == pytest.approx(network.link("QK1E", "QK1H").margin_db, abs=1e-3)
    assert study.back.margin_db == pytest.approx(network.link("QK1H", "QK1E").margin_db, abs=1e-3)
    assert study.there_budget.margin_db == pytest.approx(study.there.margin_db, abs=1e-9)
    assert study.back_budget.received_dbm == pytest.approx(study.back.received_dbm, abs=1e-9)
    assert study.clearance.worst_share == pytest.approx(study.there.fresnel_clearance, abs=1e-9)
    assert study.clearance.line_of_sight is study.there.line_of_sight is False
    assert study.profile.length_m == pytest.approx(study.there.distance_m, abs=0.01)
    # 47 - 1 + 5 = 51 dBm = 125.9 W; sqrt(125.9 x 2.56 / (4 pi 2 W/m2)) = 3.581 m (OET Bulletin 65)
    assert study.there_budget.eirp_dbm == pytest.approx(51.0)
    assert study.keep_away[0].distance_m == pytest.approx(3.581, abs=0.002)
    # the handheld, its whip counted as a dipole: 37 - 1 + 2.15 = 38.15 dBm = 6.531 W, not 37 - 1 - 5
    assert study.keep_away[1].distance_m == pytest.approx(0.816, abs=0.001)
    assert [away.call_sign for away in study.keep_away] == ["QK1E", "QK1H"]
    # the ridge stands near 38.2 W, 10 km from QK1E
    assert study.profile.distance_m[np.argmax(study.profile.ground_m)] == pytest.approx(10_000.0, abs=1_000.0)


def test_member_and_repeater_in_either_order(club: Net, terrain: Terrain) -> None:
    member = survey_repeater(club, terrain, club.repeaters[0]).member("QK1M")
    up = study_path(club, terrain, left="QK1M", right="QK0R")
    down = study_path(club, terrain, left="QK0R", right="QK1M")
    assert (up.there, up.back) == (member.talk_in, member.talk_out)
    assert (down.there, down.back) == (member.talk_out, member.talk_in)
    assert (up.frequency_mhz, down.frequency_mhz) == (146.34, 146.94)
    np.testing.assert_allclose(down.profile.ground_m[::-1], up.profile.ground_m, atol=1e-3)


def test_every_model_side_by_side(club: Net, terrain: Terrain) -> None:
    study = study_path(club, terrain, left="QK1A", right="QK1E")
    by_name = {figure.name: figure for figure in study.models}
    assert [f.name for f in study.models if f.is_net_choice] == ["delta_bullington"]
    assert by_name["delta_bullington"].loss_db == pytest.approx(study.there.path_loss_db, abs=1e-9)
    assert by_name["free_space"].over_free_space_db == pytest.approx(0.0, abs=1e-9)
    assert all(f.over_free_space_db > 10.0 for f in study.models if f.name != "free_space")  # a ridge
    spread = study.models_spread
    assert spread is not None
    complete = [by_name[name].loss_db for name in ("delta_bullington", "p1812", "itm")]
    assert (spread.lowest_db, spread.highest_db) == (min(complete), max(complete))
    assert spread.spread_db == max(complete) - min(complete) > 0.0
    assert by_name[spread.lowest].loss_db == spread.lowest_db
    assert f"differ by {spread.spread_db:.0f} dB" in spread.sentence
    assert ("test this path" in spread.sentence) is (spread.spread_db > 10.0)


def test_a_radio_held_low_has_a_figure_by_every_model(club: Net, terrain: Terrain) -> None:
    """The models as the survey works them: P.1812 and ITM from their lowest antenna up, edges as it is."""
    held = replace(club.station("QK1H"), antenna=Antenna(height_m=0.4, gain_dbi=-5.0))
    low = replace(club, model="p1812", stations=(club.station("QK1A"), held))
    study = study_path(low, terrain, left="QK1A", right="QK1H")
    assert all(math.isfinite(figure.loss_db) for figure in study.models)
    chosen = next(figure for figure in study.models if figure.is_net_choice)
    assert chosen.loss_db == pytest.approx(study.there.path_loss_db, abs=1e-9)
    assert any("0.4 m is below the 1 m where p1812 starts" in text for text in texts(study.warnings))


def test_a_model_out_of_its_band_says_so_and_the_rest_stand(club: Net, terrain: Terrain) -> None:
    study = study_path(club, terrain, left="QK1A", right="QK1B", channel=Channel("ten", 28.5))
    refused = {f.name: f.note for f in study.models if math.isnan(f.loss_db)}
    assert "p1812" in refused
    assert "30" in refused["p1812"]
    assert any(f.name == "itm" and math.isfinite(f.loss_db) for f in study.models)
    assert study.models_spread is not None
    assert study.models_spread.models == ("delta_bullington", "itm")
    assert "p1812" not in study.models_spread.sentence


@pytest.mark.parametrize(
    ("left", "right", "text"),
    [
        ("QK9Z", "QK1A", '"QK9Z" is .*Test net; there are QK0R, QK1A'),
        ("QK1A", "QK1A", "QK1A to itself is no path"),
        ("QK1A", "QK1N", "QK1N is linked over the internet"),
    ],
)
def test_what_is_no_path_is_said(club: Net, terrain: Terrain, left: str, right: str, text: str) -> None:
    with pytest.raises(InputProblem, match=text):
        study_path(club, terrain, left=left, right=right)


def test_a_path_on_a_band_somebody_lacks_is_refused(club: Net, terrain: Terrain) -> None:
    stations = tuple(replace(s, bands=("70 cm",)) if s.call_sign == "QK1E" else s for s in club.stations)
    for other in ("QK1A", "QK0R"):
        with pytest.raises(InputProblem, match="QK1E has no radio for 2 m, only for 70 cm"):
            study_path(replace(club, stations=stations), terrain, left=other, right="QK1E")


def test_stations_at_one_place_have_one_loss(club: Net, terrain: Terrain) -> None:
    """Free space between the antennas; no model's figure for another length stands beside it."""
    twin = replace(club.station("QK1A"), call_sign="QK1T")
    study = study_path(replace(club, stations=(*club.stations, twin)), terrain, left="QK1A", right="QK1T")
    assert study.models == () and study.models_spread is None
    assert any("free space" in text for text in texts(study.warnings))
