"""An invented net on invented ground, for the drawing tests: made from a seed, no file, no radio model.

Received levels follow a crude distance law minus a random shadowing, so that every grade and every kind of
link occurs; they are test material, not a prediction.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np

from reach.drawings.maps.picture import MapPicture, MercatorBox, relief_picture
from reach.drawings.maps.plan_marks import CutOff, PlanMarks
from reach.geodesy import distance_and_bearing
from reach.links.network import DirectedLink, RepeaterMember, RepeaterNetwork, SimplexNetwork
from reach.stations import Antenna, BackupPower, Category, Channel, Net, Position, Repeater, Station

LATITUDE, LONGITUDE = (41.05, 41.45), (-38.42, -37.82)
NAMES = (
    "Ridge Farm",
    "Old Quay",
    "Mill Lane",
    "High Wood",
    "Sandbar",
    "Chapel Hill",
    "Two Bridges",
    "Foxholes",
)


def call_sign(number: int) -> str:
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    return f"QK3{letters[number // 26 % 26]}{letters[number % 26]}{letters[(7 * number + 3) % 26]}"


def stations(count: int = 24, seed: int = 7) -> tuple[Station, ...]:
    rng = np.random.default_rng(seed)
    kinds = [Category.BASE] * 3 + [Category.MOBILE, Category.PORTABLE]
    made = []
    for number in range(count):
        category = Category.INTERNET if number == count - 1 else kinds[number % len(kinds)]
        made.append(
            Station(
                call_sign=call_sign(number),
                name=f"{NAMES[number % len(NAMES)]} {number + 1}",
                position=Position(float(rng.uniform(*LATITUDE)), float(rng.uniform(*LONGITUDE))),
                category=category,
                antenna=Antenna(
                    height_m={Category.BASE: 9.0, Category.MOBILE: 1.8}.get(category, 1.5), gain_dbi=2.15
                ),
                transmit_power_dbm=37.0 if category is Category.PORTABLE else 47.0,
                backup=BackupPower(hours=8.0) if number % 3 == 0 else None,
                willing_control=number % 4 == 0,
                willing_relay=number % 2 == 0,
                assumed=("antenna height 9 m (base default)",) if number % 5 == 0 else (),
            )
        )
    return tuple(made)


def net(count: int = 24, seed: int = 7) -> Net:
    repeater = Repeater(
        call_sign="QK3RPT",
        name="Gallows Tor",
        position=Position(41.27, -38.1),
        output_mhz=146.94,
        input_mhz=146.34,
        antenna=Antenna(height_m=25.0, gain_dbi=8.15),
        transmit_power_dbm=46.0,
        tone_hz=103.5,
        backup=BackupPower(hours=24.0),
    )
    return Net(
        name="Invented Valley Net",
        channels=(Channel("simplex one", 146.52),),
        repeaters=(repeater,),
        stations=stations(count, seed),
    )


def simplex_network(invented: Net | None = None, seed: int = 7) -> SimplexNetwork:
    it = invented or net()
    n = len(it.stations)
    lat = np.array([s.position.latitude_deg for s in it.stations])
    lon = np.array([s.position.longitude_deg for s in it.stations])
    distance, bearing = distance_and_bearing(
        from_latitude_deg=lat[:, None],
        from_longitude_deg=lon[:, None],
        to_latitude_deg=lat,
        to_longitude_deg=lon,
    )
    rng = np.random.default_rng(seed)
    shadow = np.abs(rng.normal(0.0, 16.0, (n, n)))
    shadow = np.triu(shadow, 1) + np.triu(shadow, 1).T
    km = np.maximum(distance, 1.0) / 1000.0
    loss = 20 * np.log10(km) + 32.4 + 20 * math.log10(146.52) + shadow + 0.55 * km
    power = np.array([s.transmit_power_dbm for s in it.stations])
    received = power[:, None] - loss - 3.0
    margin = received + 97.0
    dark = np.array([not s.has_radio_path for s in it.stations])
    for matrix in (loss, received, margin):
        matrix[dark, :] = matrix[:, dark] = np.nan
        np.fill_diagonal(matrix, np.nan)
    sigma = np.full((n, n), 8.0)
    chance = np.array(
        [[0.0 if math.isnan(m) else 0.5 * math.erfc(-m / 8.0 / math.sqrt(2)) for m in row] for row in margin]
    )
    return SimplexNetwork(
        net=it,
        channel=it.channels[0],
        call_signs=tuple(s.call_sign for s in it.stations),
        distance_m=distance,
        bearing_deg=bearing,
        path_loss_db=loss,
        received_dbm=received,
        margin_db=margin,
        chance=chance,
        sigma_db=sigma,
        line_of_sight=shadow < 6.0,
        fresnel_clearance=1.2 - shadow / 10.0,
    )


def plan_marks(network: SimplexNetwork) -> PlanMarks:
    """A plausible plan: the best heard station leads; whom it misses go through the relay that hears most."""
    margin = np.nan_to_num(network.margin_db, nan=-99.0)
    works = (margin >= 0.0) & (margin.T >= 0.0)
    radio = [i for i, s in enumerate(network.net.stations) if s.has_radio_path]
    control = max(radio, key=lambda i: works[i].sum())
    left = [i for i in radio if i != control and not works[control, i]]
    served: dict[str, tuple[str, ...]] = {}
    relays = []
    while left:
        relay = max((i for i in radio if works[control, i]), key=lambda i: sum(works[i, j] for j in left))
        mine = [j for j in left if works[relay, j]]
        if not mine:
            break
        relays.append(network.call_signs[relay])
        served[network.call_signs[relay]] = tuple(network.call_signs[j] for j in mine)
        left = [j for j in left if j not in mine]
    missed = []
    for j in left:
        best = max((i for i in radio if i != j), key=lambda i: margin[j, i])
        missed.append(
            CutOff(
                network.call_signs[j],
                f"{network.call_signs[best]} hears it {-margin[j, best]:.0f} dB under workable",
            )
        )
    name = network.call_signs[control]
    return PlanMarks(
        name, tuple(relays), served, tuple(missed), (f"{name} leads: most members hear it directly.",)
    )


def _link(tx: str, rx: str, margin: float, distance_m: float) -> DirectedLink:
    return DirectedLink(
        tx=tx, rx=rx, frequency_mhz=146.94, distance_m=distance_m, bearing_deg=10.0,
        path_loss_db=120.0 - margin, received_dbm=-97.0 + margin, margin_db=margin,
        chance=0.5 * math.erfc(-margin / 8.0 / math.sqrt(2)),
        line_of_sight=margin > 8.0, fresnel_clearance=margin / 20.0,
    )  # fmt: skip


def repeater_network(invented: Net | None = None, seed: int = 5) -> RepeaterNetwork:
    it = invented or net()
    repeater = it.repeaters[0]
    rng = np.random.default_rng(seed)
    members = []
    for station in it.stations:
        if not station.has_radio_path:
            continue
        distance, _ = distance_and_bearing(
            from_latitude_deg=station.position.latitude_deg,
            from_longitude_deg=station.position.longitude_deg,
            to_latitude_deg=repeater.position.latitude_deg,
            to_longitude_deg=repeater.position.longitude_deg,
        )
        out = 22.0 - float(distance) / 1000.0 * 0.7 + float(rng.normal(0.0, 5.0))
        into = out - (46.0 - station.transmit_power_dbm) - 1.0
        members.append(
            RepeaterMember(
                station.call_sign,
                _link(station.call_sign, repeater.call_sign, into, float(distance)),
                _link(repeater.call_sign, station.call_sign, out, float(distance)),
            )
        )
    no_radio = tuple(s.call_sign for s in it.stations if not s.has_radio_path)
    return RepeaterNetwork(it, repeater, tuple(members), no_radio)


def elevation(rows: int = 420, columns: int = 560, seed: int = 3):
    """Smooth ridges and valleys with a coast in the south-west: metres, sea at exactly 0."""
    rng = np.random.default_rng(seed)
    fy, fx = np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(columns)[None, :]
    power = 1.0 / np.maximum(np.hypot(fy, fx), 2.0 / columns) ** 1.9
    phase = rng.uniform(0, 2 * np.pi, power.shape)
    field = np.fft.irfft2(power * np.exp(1j * phase), s=(rows, columns))
    field = (field - field.mean()) / field.std()
    y, x = np.mgrid[0 : 1 : rows * 1j, 0 : 1 : columns * 1j]
    ground = 260.0 + 170.0 * np.abs(field) - 520.0 * np.maximum(0.0, y * 0.8 - x * 0.9)
    return np.where(ground > 0.0, ground, 0.0)


@lru_cache(maxsize=1)
def relief() -> MapPicture:
    radius = 6_378_137.0

    def northing(latitude_deg: float) -> float:
        return radius * math.asinh(math.tan(math.radians(latitude_deg)))

    box = MercatorBox(
        math.radians(-38.55) * radius, northing(40.97), math.radians(-37.7) * radius, northing(41.53)
    )
    return relief_picture(elevation(), box)


def with_text(network: SimplexNetwork, text: str) -> SimplexNetwork:
    """The same network with every name, and the first call sign, replaced by a text."""
    changed = tuple(replace(s, name=text) for s in network.net.stations)
    first = replace(changed[0], call_sign=text)
    renamed = replace(network.net, name=text, stations=(first, *changed[1:]))
    return replace(network, net=renamed, call_signs=(text, *network.call_signs[1:]), warnings=(text,))
