"""Every link of a net: who hears whom on simplex, who gets into and hears each repeater."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reach.links.budget import LinkBudget, link_budget, received_levels_dbm, required_levels_dbm
from reach.links.cover_doubts import cover_doubts
from reach.links.doubts import repeater_doubts, simplex_doubts
from reach.links.ends import RadioEnd, RadioEnds, repeater_end, station_end
from reach.links.network import DirectedLink, RepeaterMember, RepeaterNetwork, SimplexNetwork
from reach.links.paths import PathEnd, SurveyedPaths, survey_paths
from reach.links.receiver import fm_mode
from reach.links.spread import REPEATER_SIGMA_DB, station_sigma_db, time_sigma_db
from reach.machinery.progress import Progress
from reach.propagation.choose import choose_model
from reach.propagation.earth import STANDARD_K_FACTOR
from reach.propagation.models import PathLossModel
from reach.propagation.variability import PATH_SIGMA_DB, SigmaParts, chance_of_working
from reach.stations import Channel, Net, Polarisation, Repeater, Station
from reach.terrain.clutter import LandCover
from reach.terrain.tiles import Terrain

FloatArray = NDArray[np.float64]


def survey_simplex(
    net: Net, terrain: Terrain, channel: Channel, *, progress: Progress | None = None
) -> SimplexNetwork:
    """Every pair of stations both ways on a simplex channel.

    One path loss per pair serves both directions (the models are reciprocal); all else differs.
    Internet-linked members stay in the order with NaN levels and chance 0.
    Raises : MissingTerrain, OutOfRange, naming both ends.
    Cost : stations^2 / 2 paths; memory is bounded (see survey_paths) but for the matrices.
    """
    model = net_model(net, channel.frequency_mhz)
    mode = fm_mode(channel.deviation_khz)
    stations = net.stations
    n = len(stations)
    on_air = [i for i, station in enumerate(stations) if station.has_radio_path]
    pairs = [(i, j) for k, i in enumerate(on_air) for j in on_air[k + 1 :]]
    path_ends = [_path_end(station) for station in stations]
    paths = survey_net_paths(
        net,
        terrain,
        model,
        [(path_ends[i], path_ends[j]) for i, j in pairs],
        frequencies_mhz=[channel.frequency_mhz],
        polarisation=channel.polarisation,
        progress=progress,
    )
    first = np.array([i for i, _ in pairs], dtype=np.intp)
    second = np.array([j for _, j in pairs], dtype=np.intp)

    def both_ways(there: FloatArray, back: FloatArray) -> FloatArray:
        matrix = np.full((n, n), np.nan)
        matrix[first, second], matrix[second, first] = there, back
        return matrix

    distance_m = both_ways(paths.distance_m, paths.distance_m)
    np.fill_diagonal(distance_m, 0.0)
    path_loss_db = both_ways(paths.path_loss_db[:, 0], paths.path_loss_db[:, 0])
    clearance = both_ways(paths.fresnel_clearance[:, 0], paths.fresnel_clearance[:, 0])
    line_of_sight = np.zeros((n, n), dtype=np.bool_)
    line_of_sight[first, second] = line_of_sight[second, first] = paths.line_of_sight

    each = [station_end(s, frequency_mhz=channel.frequency_mhz, net_noise=net.noise) for s in stations]
    ends = RadioEnds.of(each)
    tx, rx = ends.as_rows(), ends.as_columns()
    received_dbm = received_levels_dbm(tx=tx, rx=rx, path_loss_db=path_loss_db)
    required_dbm = required_levels_dbm(tx=tx, rx=rx, mode=mode)
    margin_db = received_dbm - required_dbm
    own_site_db = np.hypot([station_sigma_db(s.category) for s in stations], ends.extra_sigma_db)
    height_m = np.array([s.antenna.height_m for s in stations], dtype=np.float64)
    spread = SigmaParts(
        path_db=np.where(np.isnan(path_loss_db), np.nan, PATH_SIGMA_DB),
        tx_station_db=own_site_db[:, np.newaxis],
        rx_station_db=own_site_db[np.newaxis, :],
        time_db=time_sigma_db(
            distance_m=distance_m,
            frequency_mhz=channel.frequency_mhz,
            tx_height_m=height_m[:, np.newaxis],
            rx_height_m=height_m[np.newaxis, :],
            margin_db=margin_db,
        ),
        rx_noise_db=ends.noise_sigma_db[np.newaxis, :],
    )
    sigma_db = spread.total_db
    return SimplexNetwork(
        net=net,
        channel=channel,
        call_signs=tuple(station.call_sign for station in stations),
        distance_m=distance_m,
        bearing_deg=both_ways(paths.bearing_deg, paths.return_bearing_deg),
        path_loss_db=path_loss_db,
        received_dbm=received_dbm,
        margin_db=margin_db,
        chance=np.nan_to_num(chance_of_working(margin_db, sigma_db), nan=0.0),
        sigma_db=sigma_db,
        line_of_sight=line_of_sight,
        fresnel_clearance=clearance,
        warnings=(*simplex_doubts(net, channel), *paths.warnings),
        required_dbm=required_dbm,
        path_sigma_db=np.asarray(spread.path_db),
        station_sigma_db=own_site_db,
        receive_sigma_db=ends.noise_sigma_db,
        time_sigma_db=np.asarray(spread.time_db),
        model=model.name,
    )


def survey_repeater(
    net: Net, terrain: Terrain, repeater: Repeater, *, progress: Progress | None = None
) -> RepeaterNetwork:
    """Every member against one repeater, both ways: talk-in on its input frequency, talk-out on its output.

    Members come in the net's order; internet-linked ones are named apart.
    Raises : MissingTerrain, OutOfRange, naming both ends.
    """
    model = net_model(net, min(repeater.input_mhz, repeater.output_mhz))
    mode = fm_mode(repeater.deviation_khz)
    stations = tuple(station for station in net.stations if station.has_radio_path)
    hub = PathEnd(repeater.call_sign, repeater.position, repeater.antenna.height_m)
    paths = survey_net_paths(
        net,
        terrain,
        model,
        [(_path_end(station), hub) for station in stations],
        frequencies_mhz=[repeater.input_mhz, repeater.output_mhz],
        polarisation=Polarisation.VERTICAL,
        progress=progress,
    )
    own_site_db = np.array([station_sigma_db(s.category) for s in stations], dtype=np.float64)
    own_height_m = np.array([s.antenna.height_m for s in stations], dtype=np.float64)

    def ends(frequency_mhz: float) -> tuple[RadioEnds, RadioEnds]:
        members = [station_end(s, frequency_mhz=frequency_mhz, net_noise=net.noise) for s in stations]
        own = repeater_end(repeater, frequency_mhz=frequency_mhz, net_noise=net.noise)
        return RadioEnds.of(members), RadioEnds.of([own])

    def directed(
        tx: RadioEnds, rx: RadioEnds, path_loss_db: FloatArray, frequency_mhz: float
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        received_dbm = received_levels_dbm(tx=tx, rx=rx, path_loss_db=path_loss_db)
        margin_db = received_dbm - required_levels_dbm(tx=tx, rx=rx, mode=mode)
        spread = SigmaParts(
            path_db=PATH_SIGMA_DB,
            tx_station_db=np.hypot(own_site_db, np.maximum(tx.extra_sigma_db, rx.extra_sigma_db)),
            rx_station_db=REPEATER_SIGMA_DB,
            time_db=time_sigma_db(
                distance_m=paths.distance_m,
                frequency_mhz=frequency_mhz,
                tx_height_m=own_height_m,
                rx_height_m=repeater.antenna.height_m,
                margin_db=margin_db,
            ),
            rx_noise_db=rx.noise_sigma_db,
        )
        return received_dbm, margin_db, spread.total_db

    members_up, hub_up = ends(repeater.input_mhz)
    members_down, hub_down = ends(repeater.output_mhz)
    way_in = directed(members_up, hub_up, paths.path_loss_db[:, 0], repeater.input_mhz)
    way_out = directed(hub_down, members_down, paths.path_loss_db[:, 1], repeater.output_mhz)

    def link(k: int, way: tuple[FloatArray, FloatArray, FloatArray], *, tx: str, rx: str) -> DirectedLink:
        inward = tx == stations[k].call_sign
        received_dbm, margin_db, sigma_db = (float(values[k]) for values in way)
        return DirectedLink(
            tx=tx,
            rx=rx,
            frequency_mhz=repeater.input_mhz if inward else repeater.output_mhz,
            distance_m=float(paths.distance_m[k]),
            bearing_deg=float((paths.bearing_deg if inward else paths.return_bearing_deg)[k]),
            path_loss_db=float(paths.path_loss_db[k, 0 if inward else 1]),
            received_dbm=received_dbm,
            margin_db=margin_db,
            chance=float(chance_of_working(margin_db, sigma_db)),
            line_of_sight=bool(paths.line_of_sight[k]),
            fresnel_clearance=float(paths.fresnel_clearance[k, 0 if inward else 1]),
            sigma_db=sigma_db,
        )

    return RepeaterNetwork(
        net=net,
        repeater=repeater,
        members=tuple(
            RepeaterMember(
                call_sign=station.call_sign,
                talk_in=link(k, way_in, tx=station.call_sign, rx=repeater.call_sign),
                talk_out=link(k, way_out, tx=repeater.call_sign, rx=station.call_sign),
            )
            for k, station in enumerate(stations)
        ),
        no_radio=tuple(station.call_sign for station in net.stations if not station.has_radio_path),
        warnings=(*repeater_doubts(net, repeater, stations), *paths.warnings),
        model=model.name,
    )


def net_model(net: Net, frequency_mhz: float) -> PathLossModel:
    """The net's path-loss model at a frequency in MHz.

    A k-factor other than 4/3 in the net goes to every model that takes one; with 4/3 each keeps its own
    standard atmosphere. Raises : OutOfRange when the named model does not reach the frequency.
    """
    k_factor = None if math.isclose(net.k_factor, STANDARD_K_FACTOR) else net.k_factor
    return choose_model(net.model, frequency_mhz, k_factor=k_factor)


def survey_net_paths(
    net: Net,
    terrain: Terrain,
    model: PathLossModel,
    ends: Sequence[tuple[PathEnd, PathEnd]],
    *,
    frequencies_mhz: Sequence[float],
    polarisation: Polarisation = Polarisation.VERTICAL,
    progress: Progress | None = None,
) -> SurveyedPaths:
    """Paths between any ends over the net's terrain and, where it names one, its land cover.

    model : see `net_model`. Raises : MissingTerrain, OutOfRange, naming both ends.
    """

    def survey(land_cover: LandCover | None) -> SurveyedPaths:
        return survey_paths(
            ends,
            terrain,
            model,
            frequencies_mhz=frequencies_mhz,
            polarisation=polarisation,
            k_factor=net.k_factor,
            land_cover=land_cover,
            progress=progress,
        )

    if net.land_cover is None:
        return survey(None)
    with LandCover(net.land_cover, overrides=net.clutter_heights_m) as land_cover:
        paths = survey(land_cover)
        over = (end for pair in ends for end in pair)
        warnings = [*cover_doubts(land_cover, over, net.stations, model=model.name), *land_cover.warnings]
    return replace(paths, warnings=(*warnings, *paths.warnings))


def simplex_budget(network: SimplexNetwork, *, tx: str, rx: str) -> LinkBudget:
    """Every line behind one link of a simplex network. KeyError when it has no radio path."""
    link = network.link(tx, rx)
    if np.isnan(link.path_loss_db):
        raise KeyError(f"{tx} to {rx} has no radio path")

    parts = (
        network.path_sigma_db,
        network.station_sigma_db,
        network.time_sigma_db,
        network.receive_sigma_db,
    )
    spread: SigmaParts | None = None
    if not any(part is None for part in parts):
        path_db, site_db, time_db, noise_db = (np.asarray(part) for part in parts)
        i, j = network.index(tx), network.index(rx)
        spread = SigmaParts(
            path_db=float(path_db[i, j]),
            tx_station_db=float(site_db[i]),
            rx_station_db=float(site_db[j]),
            time_db=float(time_db[i, j]),
            rx_noise_db=float(noise_db[j]),
        )

    def end(call_sign: str) -> RadioEnd:
        return station_end(
            network.net.station(call_sign), frequency_mhz=link.frequency_mhz, net_noise=network.net.noise
        )

    return link_budget(
        tx=end(tx),
        rx=end(rx),
        path_loss_db=link.path_loss_db,
        frequency_mhz=link.frequency_mhz,
        mode=fm_mode(network.channel.deviation_khz),
        sigma_db=link.sigma_db,
        path_note=network.model,
        spread=spread,
    )


def repeater_budgets(network: RepeaterNetwork, call_sign: str) -> tuple[LinkBudget, LinkBudget]:
    """Every line behind talk-in and talk-out of one member. KeyError when it has no radio path."""
    member = network.member(call_sign)
    station = network.net.station(call_sign)

    def budget(link: DirectedLink) -> LinkBudget:
        own = station_end(station, frequency_mhz=link.frequency_mhz, net_noise=network.net.noise)
        hub = repeater_end(network.repeater, frequency_mhz=link.frequency_mhz, net_noise=network.net.noise)
        inward = link is member.talk_in
        own_site_db = float(np.hypot(station_sigma_db(station.category), own.extra_sigma_db))
        spread = SigmaParts(
            path_db=PATH_SIGMA_DB,
            tx_station_db=own_site_db if inward else REPEATER_SIGMA_DB,
            rx_station_db=REPEATER_SIGMA_DB if inward else own_site_db,
            time_db=float(
                time_sigma_db(
                    distance_m=link.distance_m,
                    frequency_mhz=link.frequency_mhz,
                    tx_height_m=station.antenna.height_m,
                    rx_height_m=network.repeater.antenna.height_m,
                    margin_db=link.margin_db,
                )
            ),
            rx_noise_db=(hub if inward else own).noise_sigma_db,
        )
        return link_budget(
            tx=own if inward else hub,
            rx=hub if inward else own,
            path_loss_db=link.path_loss_db,
            frequency_mhz=link.frequency_mhz,
            mode=fm_mode(network.repeater.deviation_khz),
            sigma_db=link.sigma_db,
            path_note=network.model,
            spread=spread,
        )

    return budget(member.talk_in), budget(member.talk_out)


def _path_end(station: Station) -> PathEnd:
    return PathEnd(station.call_sign, station.position, station.antenna.height_m)
