"""Surroundings as lines of the budget."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from reach.links.link_budgets import repeater_budgets, simplex_budget
from reach.links.repeater_survey import survey_repeater
from reach.links.surroundings import surrounding_loss
from reach.links.survey import survey_simplex
from reach.stations import Channel, Net, Surrounding
from reach.terrain.tiles import Terrain


@pytest.mark.parametrize(
    ("surrounding", "frequency_mhz", "loss_db", "sigma_db"),
    [
        # Rec. ITU-R P.2109: 50 and 90 % of traditional buildings at 146 MHz, 14.06 and 22.98; 8.92 / 1.28155
        (Surrounding.INDOORS, 146.0, 14.06, 6.96),
        (Surrounding.INSULATED_BUILDING, 446.0, 32.6, 11.4),  # 32.6 and 47.3 dB
        # Rec. ITU-R P.833, 100 m of mixed forest: 4.07 dB at 146 MHz, 8.52 dB at 446 MHz
        (Surrounding.WOODLAND, 146.0, 4.07, 0.0),
        (Surrounding.WOODLAND, 446.0, 8.52, 0.0),
        # common practice, no source: 8 to 12 dB on 2 m, 6 to 10 dB on 70 cm
        (Surrounding.IN_VEHICLE, 146.0, 10.0, 0.0),
        (Surrounding.IN_VEHICLE, 446.0, 8.0, 0.0),
    ],
)
def test_losses(surrounding: Surrounding, frequency_mhz: float, loss_db: float, sigma_db: float) -> None:
    found = surrounding_loss(surrounding, frequency_mhz=frequency_mhz)
    assert found.loss_db == pytest.approx(loss_db, abs=0.06)
    assert found.sigma_db == pytest.approx(sigma_db, abs=0.15)


@pytest.mark.parametrize("frequency_mhz", [28.5, 52.0, 146.0, 223.5, 446.0])
@pytest.mark.parametrize("surrounding", list(Surrounding))
def test_every_surrounding_has_a_loss_on_every_band(surrounding: Surrounding, frequency_mhz: float) -> None:
    found = surrounding_loss(surrounding, frequency_mhz=frequency_mhz)
    assert 1.0 < found.loss_db < 45.0
    assert found.note


def test_each_is_a_line_and_counts_both_ways(club: Net, terrain: Terrain, channel: Channel) -> None:
    plain = survey_simplex(club, terrain, channel)
    inside = replace(
        club,
        stations=tuple(
            replace(s, surroundings=(Surrounding.INDOORS, Surrounding.ON_BELT), extra_loss_db=2.0)
            if s.call_sign == "QK1H"
            else s
            for s in club.stations
        ),
    )
    found = survey_simplex(inside, terrain, channel)
    lost_db = 14.06 + 7.0 + 2.0
    for tx, rx in (("QK1A", "QK1H"), ("QK1H", "QK1A")):
        assert plain.link(tx, rx).received_dbm - found.link(tx, rx).received_dbm == pytest.approx(
            lost_db, abs=0.05
        )
    budget = simplex_budget(found, tx="QK1H", rx="QK1A")
    lines = {line.label: line for line in budget.signal_lines}
    assert lines["around the transmitter: on the belt"].value_db == -7.0
    assert lines["around the transmitter: body, vehicle or building"].value_db == -2.0
    assert "P.2109" in lines["around the transmitter: indoors"].note
    assert budget.received_dbm == pytest.approx(found.link("QK1H", "QK1A").received_dbm, abs=1e-9)
    back = simplex_budget(found, tx="QK1A", rx="QK1H")
    assert any(line.label == "around the receiver: indoors" for line in back.signal_lines)
    # houses differ: the chance knows
    assert found.station_sigma_db is not None
    assert plain.station_sigma_db is not None
    h = found.index("QK1H")
    assert found.station_sigma_db[h] == pytest.approx(np.hypot(plain.station_sigma_db[h], 6.96), abs=0.02)
    assert found.link("QK1H", "QK1A").sigma_db > plain.link("QK1H", "QK1A").sigma_db + 1.0


def test_the_same_against_a_repeater(club: Net, terrain: Terrain) -> None:
    inside = replace(club, stations=(replace(club.station("QK1H"), surroundings=(Surrounding.INDOORS,)),))
    plain = survey_repeater(club, terrain, club.repeaters[0]).member("QK1H")
    network = survey_repeater(inside, terrain, club.repeaters[0])
    found = network.member("QK1H")
    for before, after, budget in zip(
        (plain.talk_in, plain.talk_out), (found.talk_in, found.talk_out), repeater_budgets(network, "QK1H")
    ):
        assert before.margin_db - after.margin_db == pytest.approx(14.06, abs=0.05)
        assert after.sigma_db**2 - before.sigma_db**2 == pytest.approx(6.96**2, rel=0.05)
        assert budget.margin_db == pytest.approx(after.margin_db, abs=1e-9)
