"""Beams, polarisation and what dulls the noise, as they come out of a surveyed net."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from reach.inputs.equipment import ANTENNAS
from reach.links.budget import LineKind
from reach.links.ends import station_end
from reach.links.link_budgets import repeater_budgets, simplex_budget
from reach.links.pattern import CROSS_POLAR_LOSS_DB
from reach.links.repeater_survey import survey_repeater
from reach.links.survey import survey_simplex
from reach.stations import (
    Aim,
    Antenna,
    Beam,
    Category,
    Channel,
    Net,
    NoiseEnvironment,
    Polarisation,
    Position,
    Station,
    Surrounding,
)
from reach.terrain.tiles import Terrain


def with_antenna(net: Net, call_sign: str, antenna: Antenna) -> Net:
    stations = tuple(replace(s, antenna=antenna) if s.call_sign == call_sign else s for s in net.stations)
    return replace(net, stations=stations)


def beam(bearing_deg: float, aim: Aim = Aim.FIXED) -> Antenna:
    return Antenna(10.0, 10.0, "5-element yagi", beam=Beam(aim, bearing_deg))


def test_a_beam_lifts_whom_it_looks_at_and_no_other(club: Net, terrain: Terrain, channel: Channel) -> None:
    def margin(antenna: Antenna, tx: str, rx: str) -> float:
        return survey_simplex(with_antenna(club, "QK1A", antenna), terrain, channel).link(tx, rx).margin_db

    toward = survey_simplex(club, terrain, channel).link("QK1A", "QK1E").bearing_deg
    turned = {off: margin(beam(toward + off), "QK1A", "QK1E") for off in (0.0, 30.0, 60.0, 120.0, 180.0)}
    assert list(turned.values()) == sorted(turned.values(), reverse=True)
    assert turned[0.0] - turned[180.0] == pytest.approx(18.0, abs=0.3)  # front to back
    # reciprocity: transmitting and receiving lose alike
    back = {off: margin(beam(toward + off), "QK1E", "QK1A") for off in (0.0, 180.0)}
    assert back[0.0] - back[180.0] == pytest.approx(turned[0.0] - turned[180.0], abs=1e-9)
    assert margin(beam(0.0, Aim.TURNS), "QK1A", "QK1E") >= turned[0.0] - 1e-9


def test_the_budget_says_where_the_beam_points(club: Net, terrain: Terrain, channel: Channel) -> None:
    network = survey_simplex(with_antenna(club, "QK1A", beam(270.0)), terrain, channel)
    sent = simplex_budget(network, tx="QK1A", rx="QK1E")
    heard = simplex_budget(network, tx="QK1E", rx="QK1A")
    for budget, link in ((sent, network.link("QK1A", "QK1E")), (heard, network.link("QK1E", "QK1A"))):
        assert budget.margin_db == pytest.approx(link.margin_db, abs=1e-9)
        lines = [
            line for line in budget.signal_lines if line.kind in (LineKind.TX_PATTERN, LineKind.RX_PATTERN)
        ]
        assert min(line.value_db for line in lines) == pytest.approx(-18.0)
        assert any("beam at 270 degrees, 178 beside" in line.note for line in lines)
    # what it radiates in front of it hurts whoever stands there, wherever the other end is
    assert sent.eirp_dbm == pytest.approx(47.0 - 1.0 + 10.0)


def test_a_repeaters_links_see_the_beam_too(club: Net, terrain: Terrain) -> None:
    repeater = club.repeaters[0]
    omni = survey_repeater(club, terrain, repeater).member("QK1A")
    aimed = with_antenna(club, "QK1A", beam(omni.talk_in.bearing_deg + 180.0))
    network = survey_repeater(aimed, terrain, repeater)
    away = network.member("QK1A")
    # 10 dBi with its back turned is -8 dBi, against 5 dBi
    assert omni.talk_in.received_dbm - away.talk_in.received_dbm == pytest.approx(13.0, abs=0.3)
    for budget, link in zip(repeater_budgets(network, "QK1A"), (away.talk_in, away.talk_out)):
        assert budget.margin_db == pytest.approx(link.margin_db, abs=1e-9)


def test_crossed_polarisation_costs_both_ways_and_once(club: Net, terrain: Terrain, channel: Channel) -> None:
    level = replace(club.station("QK1A").antenna, polarisation=Polarisation.HORIZONTAL)
    before = survey_simplex(club, terrain, channel)
    crossed = survey_simplex(with_antenna(club, "QK1A", level), terrain, channel)
    for tx, rx in (("QK1A", "QK1B"), ("QK1B", "QK1A")):
        lost = before.link(tx, rx).received_dbm - crossed.link(tx, rx).received_dbm
        assert lost == pytest.approx(CROSS_POLAR_LOSS_DB)
        kinds = [line.kind for line in simplex_budget(crossed, tx=tx, rx=rx).signal_lines]
        assert kinds.count(LineKind.POLARISATION) == 1
    both = with_antenna(with_antenna(club, "QK1A", level), "QK1B", level)
    alike = survey_simplex(both, terrain, channel).link("QK1A", "QK1B")
    assert alike.received_dbm == pytest.approx(before.link("QK1A", "QK1B").received_dbm)
    # on a horizontal channel nobody has to say so
    flat = survey_simplex(club, terrain, replace(channel, polarisation=Polarisation.HORIZONTAL))
    said = survey_simplex(
        with_antenna(club, "QK1A", level), terrain, replace(channel, polarisation=Polarisation.HORIZONTAL)
    )
    np.testing.assert_array_equal(flat.received_dbm, said.received_dbm)


def test_the_belt_is_the_same_said_either_way() -> None:
    """7 dB of body: as an antenna kind or as what surrounds it, signal and noise come out alike."""
    whip = ANTENNAS["handheld whip"].at(1.5)
    held = Station("QK1H", "", Position(41.0, -38.0), Category.PORTABLE, whip, 37.0)
    worn = replace(held, surroundings=(Surrounding.ON_BELT,))
    poor = replace(held, antenna=replace(whip, gain_dbi=-12.0, gain_by_band_dbi=()))
    for environment in NoiseEnvironment:
        named = station_end(worn, frequency_mhz=146.0, net_noise=environment)
        kind = station_end(poor, frequency_mhz=146.0, net_noise=environment)
        assert named.noise_rise_db == pytest.approx(kind.noise_rise_db, abs=1e-12)
        assert named.antenna_gain_dbi - named.extra_loss_db == kind.antenna_gain_dbi
    # walls and cars keep their own noise on the antenna's side
    for surrounding in (Surrounding.INDOORS, Surrounding.IN_VEHICLE, Surrounding.WOODLAND):
        inside = station_end(
            replace(held, surroundings=(surrounding,)), frequency_mhz=146.0, net_noise=NoiseEnvironment.CITY
        )
        outside = station_end(held, frequency_mhz=146.0, net_noise=NoiseEnvironment.CITY)
        assert inside.noise_rise_db == outside.noise_rise_db


def test_where_a_beam_points_changes_no_noise() -> None:
    house = Station("QK1A", "", Position(41.0, -38.0), Category.BASE, beam(0.0), 47.0)
    round_about = replace(house, antenna=Antenna(10.0, 10.0))
    for station in (house, replace(house, antenna=beam(180.0))):
        end = station_end(station, frequency_mhz=146.0, net_noise=NoiseEnvironment.CITY)
        other = station_end(round_about, frequency_mhz=146.0, net_noise=NoiseEnvironment.CITY)
        assert end.noise_rise_db == other.noise_rise_db
