"""Every line behind a link of a surveyed network, worked out again from its ends."""

from __future__ import annotations

import numpy as np

from reach.links.budget import LinkBudget, link_budget
from reach.links.ends import RadioEnd, channel_end, repeater_end, station_end, towards
from reach.links.land import counted_once
from reach.links.network import DirectedLink, RepeaterNetwork, SimplexNetwork
from reach.links.paths import PathEnd
from reach.links.receiver import fm_mode
from reach.links.survey import net_model
from reach.stations import Antenna, Station


def simplex_budget(network: SimplexNetwork, *, tx: str, rx: str) -> LinkBudget:
    """Every line behind one link of a simplex network. KeyError when it has no radio path."""
    link = network.link(tx, rx)
    if np.isnan(link.path_loss_db):
        raise KeyError(f"{tx} to {rx} has no radio path")

    sees = net_model(network.net, link.frequency_mhz).sees

    def end(leaving: DirectedLink) -> RadioEnd:
        station = counted_once(network.net.station(leaving.tx), sees)
        return _towards(channel_end(network.net, station, network.channel), station.antenna, leaving)

    return link_budget(
        tx=end(link),
        rx=end(network.link(rx, tx)),
        path_loss_db=link.path_loss_db,
        frequency_mhz=link.frequency_mhz,
        mode=fm_mode(network.channel.deviation_khz),
        sigma_db=link.sigma_db,
        path_note=_path_note(network.model, link),
        spread=link.spread,
        tx_land_db=link.tx_land_db,
        rx_land_db=link.rx_land_db,
    )


def repeater_budgets(network: RepeaterNetwork, call_sign: str) -> tuple[LinkBudget, LinkBudget]:
    """Every line behind talk-in and talk-out of one member. KeyError when it has no radio path."""
    member = network.member(call_sign)
    station = network.net.station(call_sign)

    def budget(link: DirectedLink) -> LinkBudget:
        sees = net_model(network.net, link.frequency_mhz).sees
        own = station_end(
            counted_once(station, sees), frequency_mhz=link.frequency_mhz, net_noise=network.net.noise
        )
        own = _towards(own, station.antenna, member.talk_in)
        hub = repeater_end(
            counted_once(network.repeater, sees),
            frequency_mhz=link.frequency_mhz,
            net_noise=network.net.noise,
        )
        hub = _towards(hub, network.repeater.antenna, member.talk_out)
        inward = link is member.talk_in
        return link_budget(
            tx=own if inward else hub,
            rx=hub if inward else own,
            path_loss_db=link.path_loss_db,
            frequency_mhz=link.frequency_mhz,
            mode=fm_mode(network.repeater.deviation_khz),
            sigma_db=link.sigma_db,
            path_note=_path_note(network.model, link),
            spread=link.spread,
            tx_land_db=link.tx_land_db,
            rx_land_db=link.rx_land_db,
        )

    return budget(member.talk_in), budget(member.talk_out)


def _path_note(model: str, link: DirectedLink) -> str:
    return model if link.kind is None else f"{model}, {link.kind.words}"


def _towards(end: RadioEnd, antenna: Antenna, leaving: DirectedLink) -> RadioEnd:
    """An end with its pattern counted where a link leaves it."""
    return towards(
        end,
        antenna,
        frequency_mhz=leaving.frequency_mhz,
        bearing_deg=leaving.bearing_deg,
        elevation_deg=leaving.elevation_deg,
    )


def _path_end(station: Station) -> PathEnd:
    return PathEnd(station.call_sign, station.position, station.antenna.height_m)
