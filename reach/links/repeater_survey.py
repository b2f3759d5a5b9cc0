"""Who gets into and hears a repeater: every member against it, both ways."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.inputs.bands import works_on
from reach.links.budget import received_levels_dbm, required_levels_dbm
from reach.links.doubts import repeater_doubts
from reach.links.ends import RadioEnds, repeater_end, station_end, towards
from reach.links.land import counted_once, net_cover
from reach.links.network import DirectedLink, RepeaterMember, RepeaterNetwork
from reach.links.paths import SurveyedPaths, path_end
from reach.links.pattern import pattern_loss_db
from reach.links.receiver import fm_mode
from reach.links.spread import site_sigma_db, time_sigma_db
from reach.links.survey import net_model, survey_net_paths
from reach.machinery.progress import Progress
from reach.propagation.path_kind import PathKind, kind_sigma_db
from reach.propagation.variability import SigmaParts, chance_of_working
from reach.stations import Net, Polarisation, Repeater, Station
from reach.terrain.tiles import Terrain

FloatArray = NDArray[np.float64]


def survey_repeater(
    net: Net,
    terrain: Terrain,
    repeater: Repeater,
    *,
    known: RepeaterNetwork | None = None,
    progress: Progress | None = None,
) -> RepeaterNetwork:
    """Every member against one repeater, both ways: talk-in on its input frequency, talk-out on its output.

    Members come in the net's order; internet-linked ones are named apart, and those without a radio for its
    bands have NaN levels and chance 0.
    known : the same repeater surveyed with other members or members changed; those as they were in it are
    taken from it, and its warnings are not said again.
    Raises : MissingTerrain, OutOfRange, naming both ends.
    """
    model = net_model(net, min(repeater.input_mhz, repeater.output_mhz))
    hub = counted_once(repeater, model.sees)
    there = {} if known is None else _unchanged(known, net, repeater)
    stations = tuple(
        counted_once(station, model.sees)
        for station in net.stations
        if station.has_radio_path and station.call_sign not in there
    )
    paths = survey_net_paths(
        net,
        terrain,
        model,
        [(path_end(station), path_end(hub)) for station in stations],
        frequencies_mhz=[repeater.input_mhz, repeater.output_mhz],
        polarisation=Polarisation.VERTICAL,
        progress=progress,
    )
    talk = _Talk(net, hub, stations, paths)
    way_in, way_out = talk.links(0, inward=True), talk.links(1, inward=False)
    found = there | {
        station.call_sign: RepeaterMember(call_sign=station.call_sign, talk_in=talk_in, talk_out=talk_out)
        for station, talk_in, talk_out in zip(stations, way_in, way_out)
    }
    return RepeaterNetwork(
        net=net,
        repeater=repeater,
        members=tuple(found[station.call_sign] for station in net.stations if station.has_radio_path),
        no_radio=tuple(station.call_sign for station in net.stations if not station.has_radio_path),
        warnings=(*repeater_doubts(net, repeater, stations), *paths.warnings),
        model=model.name,
    )


def _unchanged(known: RepeaterNetwork, net: Net, repeater: Repeater) -> dict[str, RepeaterMember]:
    """Members of a network that are the same in this net, by call sign; none where anything else differs."""
    if known.repeater != repeater or replace(known.net, stations=()) != replace(net, stations=()):
        return {}
    same = set(known.net.stations) & set(net.stations)
    calls = {station.call_sign for station in same}
    return {member.call_sign: member for member in known.members if member.call_sign in calls}


@dataclass(frozen=True)
class _Talk:
    """A repeater and its members over surveyed paths, from each member to the repeater.

    hub, stations : with what the model sees round them counted once.
    """

    net: Net
    hub: Repeater
    stations: tuple[Station, ...]
    paths: SurveyedPaths

    def links(self, f: int, *, inward: bool) -> list[DirectedLink]:
        """Every link of one direction. f : place of its frequency among the paths' own."""
        hub, paths = self.hub, self.paths
        frequency_mhz = hub.input_mhz if inward else hub.output_mhz
        members, own = self._ends(frequency_mhz)
        tx, rx = (members, own) if inward else (own, members)
        bands_mhz = (hub.input_mhz, hub.output_mhz)
        no_radio_db = np.array([0.0 if works_on(s, *bands_mhz) else np.nan for s in self.stations])
        received_dbm = received_levels_dbm(tx=tx, rx=rx, path_loss_db=paths.path_loss_db[:, f]) + no_radio_db
        margin_db = received_dbm - required_levels_dbm(tx=tx, rx=rx, mode=fm_mode(hub.deviation_khz))
        spread = self._spread(f, members, own, margin_db, inward=inward)
        sigma_db = spread.total_db
        chance = np.nan_to_num(chance_of_working(margin_db, sigma_db), nan=0.0)
        bearing_deg = paths.bearing_deg if inward else paths.return_bearing_deg
        elevation_deg = paths.elevation_deg if inward else paths.return_elevation_deg
        member_land_db, hub_land_db = paths.tx_end_db[:, f], paths.rx_end_db[:, f]
        tx_land_db, rx_land_db = (member_land_db, hub_land_db) if inward else (hub_land_db, member_land_db)
        return [
            DirectedLink(
                tx=station.call_sign if inward else hub.call_sign,
                rx=hub.call_sign if inward else station.call_sign,
                frequency_mhz=frequency_mhz,
                distance_m=float(paths.distance_m[k]),
                bearing_deg=float(bearing_deg[k]),
                path_loss_db=float(paths.path_loss_db[k, f]),
                received_dbm=float(received_dbm[k]),
                margin_db=float(margin_db[k]),
                chance=float(chance[k]),
                line_of_sight=bool(paths.line_of_sight[k]),
                fresnel_clearance=float(paths.fresnel_clearance[k, f]),
                sigma_db=float(sigma_db[k]),
                spread=spread.at(k),
                kind=PathKind(int(paths.kind[k, f])),
                tx_land_db=float(tx_land_db[k]),
                rx_land_db=float(rx_land_db[k]),
                models_apart_db=float(paths.models_apart_db[k, f]),
                elevation_deg=float(elevation_deg[k]),
            )
            for k, station in enumerate(self.stations)
        ]

    def _ends(self, frequency_mhz: float) -> tuple[RadioEnds, RadioEnds]:
        """The members, each with its pattern towards the repeater, and the repeater with its towards each."""
        paths, noise = self.paths, self.net.noise
        members = [
            towards(
                station_end(station, frequency_mhz=frequency_mhz, net_noise=noise),
                station.antenna,
                frequency_mhz=frequency_mhz,
                bearing_deg=float(paths.bearing_deg[k]),
                elevation_deg=float(paths.elevation_deg[k]),
            )
            for k, station in enumerate(self.stations)
        ]
        own = RadioEnds.of([repeater_end(self.hub, frequency_mhz=frequency_mhz, net_noise=noise)])
        pattern_db = pattern_loss_db(
            self.hub.antenna,
            frequency_mhz=frequency_mhz,
            bearing_deg=paths.return_bearing_deg,
            elevation_deg=paths.return_elevation_deg,
        )
        return RadioEnds.of(members), replace(own, pattern_loss_db=pattern_db)

    def _spread(
        self, f: int, members: RadioEnds, own: RadioEnds, margin_db: FloatArray, *, inward: bool
    ) -> SigmaParts:
        paths, cover = self.paths, net_cover(self.net)
        site_db = np.array([site_sigma_db(s, cover) for s in self.stations], dtype=np.float64)
        member_db = np.hypot(site_db, members.extra_sigma_db)
        hub_db = np.full(len(self.stations), np.hypot(site_sigma_db(self.hub, cover), own.extra_sigma_db[0]))
        noise_db = (own if inward else members).noise_sigma_db
        return SigmaParts(
            path_db=kind_sigma_db(paths.kind[:, f]),
            tx_station_db=member_db if inward else hub_db,
            rx_station_db=hub_db if inward else member_db,
            time_db=time_sigma_db(
                distance_m=paths.distance_m,
                frequency_mhz=self.hub.input_mhz if inward else self.hub.output_mhz,
                tx_effective_height_m=paths.tx_effective_height_m,
                rx_effective_height_m=paths.rx_effective_height_m,
                margin_db=margin_db,
                line_of_sight=paths.line_of_sight,
            ),
            rx_noise_db=np.broadcast_to(noise_db, (len(self.stations),)),
        )
