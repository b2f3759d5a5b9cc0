"""From predicted networks of one band to the model that is fitted."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from reach.learning.model import (
    GRADING_SIGMA_DB,
    METER_SIGMA_DB,
    MOVING_EVENING_SIGMA_DB,
    BandModel,
    FloatArray,
)
from reach.links.network import RepeaterNetwork, SimplexNetwork
from reach.stations import Category, Net

# what a station's spread holds that only sending, or only hearing, shows (judgement)
_ONE_WAY_SIGMA_DB = {Category.BASE: 1.5, Category.MOBILE: 1.6, Category.PORTABLE: 2.4}


def band_model(
    simplex: SimplexNetwork,
    repeaters: Sequence[RepeaterNetwork],
    *,
    meter_sigma_db: dict[str, float] | None = None,
) -> BandModel:
    """All members and repeaters of a band, every pair with a prediction.

    simplex : of the band; its spread must be known. repeaters : with both frequencies in the band.
    meter_sigma_db : of those whose meter is better than usual. A station's stated spread is c and s together,
    its noise and the same s are h: with no report the spread of a link is the stated one and the band's.
    """
    path, site, noise, time = (
        simplex.path_sigma_db, simplex.station_sigma_db, simplex.receive_sigma_db, simplex.time_sigma_db
    )  # fmt: skip
    assert path is not None and site is not None and noise is not None and time is not None
    net, members = simplex.net, simplex.call_signs
    one, other = np.triu_indices(len(members), 1)
    real = np.isfinite(simplex.margin_db[one, other]) & np.isfinite(simplex.margin_db[other, one])
    one, other = one[real], other[real]
    moving = np.array([_moves(net, call) for call in members], dtype=np.float64)
    evening = np.hypot(
        np.hypot(time[one, other], time[other, one]) / math.sqrt(2.0),
        MOVING_EVENING_SIGMA_DB * np.sqrt(moving[one] + moving[other]),
    )
    pairs = [np.stack([one, other], axis=1)]
    margins = [np.stack([simplex.margin_db[one, other], simplex.margin_db[other, one]], axis=1)]
    levels = [np.stack([simplex.received_dbm[one, other], simplex.received_dbm[other, one]], axis=1)]
    paths, evenings = [path[one, other]], [evening]
    sites, noises = list(site), list(noise)
    for at, network in enumerate(repeaters, start=len(members)):
        links = [(members.index(m.call_sign), m.talk_in, m.talk_out) for m in network.members]
        links = [(k, i, o) for k, i, o in links if math.isfinite(i.margin_db) and math.isfinite(o.margin_db)]
        known = [(k, i, o, i.spread, o.spread) for k, i, o in links]
        rows = [(k, i, o, a, b) for k, i, o, a, b in known if a is not None and b is not None]
        sites.append(float(rows[0][3].rx_station_db) if rows else 3.5)
        noises.append(float(rows[0][3].rx_noise_db) if rows else 0.0)
        if not rows:
            continue
        pairs.append(np.array([(k, at) for k, *_ in rows]))
        margins.append(np.array([(i.margin_db, o.margin_db) for _, i, o, *_ in rows]))
        levels.append(np.array([(i.received_dbm, o.received_dbm) for _, i, o, *_ in rows]))
        paths.append(np.array([float(a.path_db) for *_, a, _ in rows]))
        evenings.append(
            np.array(
                [
                    math.hypot(
                        math.hypot(float(a.time_db), float(b.time_db)) / math.sqrt(2.0),
                        MOVING_EVENING_SIGMA_DB * float(moving[k]),
                    )
                    for k, _, _, a, b in rows
                ]
            )
        )
    calls = (*members, *(network.repeater.call_sign for network in repeaters))
    common, one_way, hear = station_priors(net, calls, np.array(sites), np.array(noises))
    meters = [(meter_sigma_db or {}).get(call, METER_SIGMA_DB) for call in calls]
    return BandModel(
        call_signs=calls,
        common_sigma_db=common,
        send_sigma_db=one_way,
        hear_sigma_db=hear,
        grading_sigma_db=np.full(len(calls), GRADING_SIGMA_DB),
        meter_sigma_db=np.array(meters),
        pairs=np.concatenate(pairs).astype(np.int64).reshape(-1, 2),
        margin_db=np.concatenate(margins),
        level_dbm=np.concatenate(levels),
        path_sigma_db=np.concatenate(paths),
        evening_sigma_db=np.concatenate(evenings),
    )


def station_priors(
    net: Net, calls: Sequence[str], site_sigma_db: FloatArray, noise_sigma_db: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Spreads of c, s and h, (n,) each, from the stated ones of a station's site and of its noise."""
    one_way = np.array([_ONE_WAY_SIGMA_DB.get(_category(net, call), 1.5) for call in calls])
    one_way = np.minimum(one_way, 0.9 * site_sigma_db)
    return np.sqrt(site_sigma_db**2 - one_way**2), one_way, np.hypot(one_way, noise_sigma_db)


def _category(net: Net, call: str) -> Category:
    return next((s.category for s in net.stations if s.call_sign == call), Category.BASE)


def _moves(net: Net, call: str) -> bool:
    return _category(net, call) is Category.PORTABLE
