"""Every link of a net: who hears whom on simplex, who gets into and hears each repeater."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reach.inputs.bands import works_on
from reach.links.budget import received_levels_dbm, required_levels_dbm
from reach.links.cover_doubts import cover_doubts
from reach.links.doubts import simplex_doubts
from reach.links.ends import RadioEnds, channel_end
from reach.links.known_paths import known_paths
from reach.links.land import counted_once, net_cover
from reach.links.network import SimplexNetwork
from reach.links.paths import PathEnd, SurveyedPaths, path_end, survey_paths
from reach.links.pattern import pattern_loss_db
from reach.links.receiver import fm_mode
from reach.links.spread import site_sigma_db, time_sigma_db
from reach.machinery.progress import Progress
from reach.notes import Note, NoteKind
from reach.propagation.choose import choose_model
from reach.propagation.earth import STANDARD_K_FACTOR
from reach.propagation.models import LandSight, PathLossModel
from reach.propagation.path_kind import kind_sigma_db
from reach.propagation.typical_land.model import Cover
from reach.propagation.variability import SigmaParts, chance_of_working
from reach.stations import Channel, Net, Polarisation, Station
from reach.terrain.clutter import LandCover
from reach.terrain.tiles import Terrain

FloatArray = NDArray[np.float64]


def survey_simplex(
    net: Net,
    terrain: Terrain,
    channel: Channel,
    *,
    known: SimplexNetwork | None = None,
    wanted: Callable[[Station, Station], bool] | None = None,
    progress: Progress | None = None,
) -> SimplexNetwork:
    """Every pair of stations both ways on a simplex channel.

    known : a network on this channel surveyed whole on the same terrain, of this net with other stations or
    with stations changed; paths it holds are taken from it, and its warnings are not said again.
    wanted : the pairs to survey, in the net's order; the others have NaN levels and chance 0. None for all.

    One path loss per pair serves both directions (the models are reciprocal); all else differs.
    Internet-linked members, and those without a radio for the band, stay in the order with NaN levels and
    chance 0.
    Raises : MissingTerrain, OutOfRange, naming both ends.
    Cost : stations^2 / 2 paths; memory is bounded (see survey_paths) but for the matrices.
    """
    model = net_model(net, channel.frequency_mhz)
    mode = fm_mode(channel.deviation_khz)
    stations = tuple(counted_once(station, model.sees) for station in net.stations)
    n = len(stations)
    on_air = [i for i, s in enumerate(stations) if s.has_radio_path and works_on(s, channel.frequency_mhz)]
    pairs = [
        (i, j)
        for k, i in enumerate(on_air)
        for j in on_air[k + 1 :]
        if wanted is None or wanted(net.stations[i], net.stations[j])
    ]
    path_ends = [path_end(station) for station in stations]
    held = known_paths(known, net, channel, model, path_ends, pairs)
    to_survey = pairs if held is None else [pairs[at] for at in held.to_survey.tolist()]
    paths = survey_net_paths(
        net,
        terrain,
        model,
        [(path_ends[i], path_ends[j]) for i, j in to_survey],
        frequencies_mhz=[channel.frequency_mhz],
        polarisation=channel.polarisation,
        progress=progress,
    )
    if held is not None:
        paths = held.joined(paths)
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

    bearing_deg = both_ways(paths.bearing_deg, paths.return_bearing_deg)
    elevation_deg = both_ways(paths.elevation_deg, paths.return_elevation_deg)
    ends = RadioEnds.of([channel_end(net, s, channel) for s in stations])
    patterns_db = np.array(
        [
            pattern_loss_db(
                s.antenna,
                frequency_mhz=channel.frequency_mhz,
                bearing_deg=bearing_deg[i],
                elevation_deg=elevation_deg[i],
            )
            for i, s in enumerate(stations)
        ]
    ).reshape(n, n)
    tx = replace(ends.as_rows(), pattern_loss_db=patterns_db)
    rx = replace(ends.as_columns(), pattern_loss_db=patterns_db.T)
    received_dbm = received_levels_dbm(tx=tx, rx=rx, path_loss_db=path_loss_db)
    required_dbm = required_levels_dbm(tx=tx, rx=rx, mode=mode)
    margin_db = received_dbm - required_dbm
    own_site_db = np.hypot([site_sigma_db(s, net_cover(net)) for s in stations], ends.extra_sigma_db)
    kind = np.zeros((n, n), dtype=np.int8)
    kind[first, second] = kind[second, first] = paths.kind[:, 0]
    effective_m = both_ways(
        paths.tx_effective_height_m, paths.rx_effective_height_m
    )  # of [this end, towards]
    spread = SigmaParts(
        path_db=np.where(np.isnan(path_loss_db), np.nan, kind_sigma_db(kind)),
        tx_station_db=own_site_db[:, np.newaxis],
        rx_station_db=own_site_db[np.newaxis, :],
        time_db=time_sigma_db(
            distance_m=distance_m,
            frequency_mhz=channel.frequency_mhz,
            tx_effective_height_m=effective_m,
            rx_effective_height_m=effective_m.T,
            margin_db=margin_db,
            line_of_sight=line_of_sight,
        ),
        rx_noise_db=ends.noise_sigma_db[np.newaxis, :],
    )
    sigma_db = spread.total_db
    return SimplexNetwork(
        net=net,
        channel=channel,
        call_signs=tuple(station.call_sign for station in stations),
        distance_m=distance_m,
        bearing_deg=bearing_deg,
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
        land_loss_db=both_ways(paths.tx_end_db[:, 0], paths.rx_end_db[:, 0]),
        path_kind=kind,
        models_apart_db=both_ways(paths.models_apart_db[:, 0], paths.models_apart_db[:, 0]),
        model=model.name,
        elevation_deg=elevation_deg,
        effective_height_m=effective_m,
    )


def net_model(net: Net, frequency_mhz: float) -> PathLossModel:
    """The net's path-loss model at a frequency in MHz.

    A k-factor other than 4/3 in the net goes to every model that takes one; with 4/3 each keeps its own
    standard atmosphere. What stands along its paths : see `net_cover`. Raises : OutOfRange when the named
    model does not reach the frequency.
    """
    k_factor = None if math.isclose(net.k_factor, STANDARD_K_FACTOR) else net.k_factor
    return choose_model(net.model, frequency_mhz, k_factor=k_factor, cover=net_cover(net))


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

    notes: list[Note] = []
    if net.land_cover is None:
        paths = survey(None)
    else:
        with LandCover(net.land_cover, overrides=net.clutter_heights_m) as land_cover:
            paths = survey(land_cover)
            over = (end for pair in ends for end in pair)
            notes += cover_doubts(land_cover, over, net.stations, model)
            notes += [Note(NoteKind.LAND, "", text) for text in land_cover.warnings]
    notes += _surface_notes(net, terrain, model)
    return replace(paths, warnings=(*notes, *paths.warnings))


def _surface_notes(net: Net, terrain: Terrain, model: PathLossModel) -> list[Note]:
    """What the ground is taken to carry, where that wants saying."""
    notes = []
    if net_cover(net) is Cover.BARE:
        notes.append(
            Note(
                NoteKind.LAND,
                "",
                "surface bare: the losses of ground alone, on all but flat land the least there can be; "
                "real land with houses and trees loses 10 to 25 dB more.",
            )
        )
    usual = net.land_cover is None and model.sees is LandSight.ENDS and net_cover(net) is not Cover.BARE
    if terrain.is_surface_model and usual:
        notes.append(
            Note(
                NoteKind.LAND,
                "",
                "the elevation tiles already hold trees and buildings, and the usual ones are added again: "
                'losses come out too high; use bare-ground tiles, or write surface = "bare" under '
                "[terrain].",
            )
        )
    return notes
