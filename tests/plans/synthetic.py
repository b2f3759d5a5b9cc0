"""Invented nets without terrain: margins given outright or from distance with shadowing."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from reach.links.network import SimplexNetwork
from reach.propagation.variability import chance_of_working
from reach.stations import Antenna, BackupPower, Category, Channel, Net, Position, Station

SIGMA_DB = 6.0


def call(number: int) -> str:
    """QA0AA, QA0AB ...: in order of number."""
    return f"QK{number // 676 % 10}{chr(65 + number // 26 % 26)}{chr(65 + number % 26)}"


def station(
    call_sign: str, *, category: Category = Category.BASE, control: bool = True, relay: bool = True,
    name: str = "", backup: BackupPower | None = None, brief: bool = False,
) -> Station:  # fmt: skip
    return Station(
        call_sign=call_sign, name=name or f"Op {call_sign}", position=Position(41.3, -38.0),
        category=category,
        antenna=Antenna(height_m=9.0, gain_dbi=2.15), transmit_power_dbm=47.0, willing_control=control,
        willing_relay=relay, backup=backup, brief=brief,
    )  # fmt: skip


def network_of(
    margin_db: NDArray[np.float64], stations: tuple[Station, ...] | None = None, *, sigma_db: float = SIGMA_DB
) -> SimplexNetwork:
    """Network with these margins [tx, rx]; chance = Phi(margin / sigma), split in path, site, receiver and
    time."""
    n = len(margin_db)
    margin_db = np.array(margin_db, dtype=np.float64)
    np.fill_diagonal(margin_db, np.nan)
    members = stations or tuple(station(call(i)) for i in range(n))
    for i, member in enumerate(members):
        if not member.has_radio_path:
            margin_db[i, :] = margin_db[:, i] = np.nan
    net = Net(name="Test net", channels=(Channel("S1", 146.55),), repeaters=(), stations=members)
    sigma = np.full((n, n), sigma_db)
    path, site, receive, time = (sigma_db * math.sqrt(share) for share in (0.4, 0.2, 0.1, 0.1))
    chance = np.nan_to_num(chance_of_working(margin_db, sigma), nan=0.0)
    return SimplexNetwork(
        net=net, channel=net.channels[0], call_signs=tuple(m.call_sign for m in members),
        distance_m=np.zeros((n, n)), bearing_deg=np.zeros((n, n)), path_loss_db=120.0 - margin_db,
        received_dbm=margin_db - 116.0, margin_db=margin_db, chance=chance, sigma_db=sigma,
        line_of_sight=np.zeros((n, n), dtype=bool), fresnel_clearance=np.zeros((n, n)),
        path_sigma_db=np.full((n, n), path), station_sigma_db=np.full(n, site),
        receive_sigma_db=np.full(n, receive), time_sigma_db=np.full((n, n), time),
    )  # fmt: skip


def linked(
    n: int, pairs: list[tuple[int, int]], stations: tuple[Station, ...] | None = None
) -> SimplexNetwork:
    """Two-way links of +6 dB on these pairs, -6 dB on all others."""
    margin_db = np.full((n, n), -6.0)
    for i, j in pairs:
        margin_db[i, j] = margin_db[j, i] = 6.0
    return network_of(margin_db, stations)


def hilly(
    n: int, *, seed: int, area_km: float = 60.0, reach_km: float = 18.0, shadowing_db: float = 8.0,
    willing: float = 1.0, unequal_db: float = 2.0,
) -> SimplexNetwork:  # fmt: skip
    """Stations strewn over a square; loss rises 40 dB a decade (plane earth) with log-normal shadowing of
    hills."""
    rng = np.random.default_rng(seed)
    place_km = rng.uniform(0.0, area_km, (n, 2))
    apart_km = np.maximum(np.hypot(*(place_km[:, None] - place_km[None]).transpose(2, 0, 1)), 0.2)
    hills_db = rng.normal(0.0, shadowing_db, (n, n))
    hills_db = (hills_db + hills_db.T) / math.sqrt(2.0)
    power_db = rng.normal(0.0, unequal_db, n)
    margin_db = 40.0 * np.log10(reach_km / apart_km) + hills_db + power_db[:, None]
    ready = rng.uniform(size=n) < willing
    members = tuple(station(call(i), control=bool(ready[i]), relay=bool(ready[i])) for i in range(n))
    return network_of(margin_db, members)
