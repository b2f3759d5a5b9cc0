"""One end of a radio link: what a station or a repeater brings to the budget, one end or many in arrays."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from reach.links.noise import MAN_MADE, external_noise, noise_rise_db
from reach.links.receiver import noise_figure_db
from reach.links.surroundings import SurroundingLoss, surrounding_loss
from reach.stations import Category, NoiseEnvironment, Repeater, Station, Surrounding

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class RadioEnd:
    """One end, all at one frequency. Losses are positive dB.

    antenna_gain_dbi : towards the other end; the same for both directions.
    extra_loss_db : body, vehicle, building at this end, all together.
    extra_sigma_db : spread of that loss between places of the kind, 1 standard deviation.
    noise_rise_db : what external noise adds to the 12 dB SINAD level at the socket.
    noise_sigma_db : spread of that rise between places of the same environment, 1 standard deviation.
    moving : 1.0 for a mobile on the road (its signal fades as it moves), else 0.0.
    noise_note : environment behind the noise rise, for people.
    extra_parts : what extra_loss_db is made of, each a line of the budget.
    """

    name: str
    transmit_power_dbm: float
    feed_loss_db: float
    duplexer_loss_db: float
    antenna_gain_dbi: float
    extra_loss_db: float
    sensitivity_dbm: float
    noise_rise_db: float
    noise_sigma_db: float
    moving: float
    extra_sigma_db: float = 0.0
    noise_note: str = ""
    extra_parts: tuple[SurroundingLoss, ...] = ()


@dataclass(frozen=True)
class RadioEnds:
    """Many ends in one order: the fields of RadioEnd as float64 arrays, all of one shape."""

    transmit_power_dbm: FloatArray
    feed_loss_db: FloatArray
    duplexer_loss_db: FloatArray
    antenna_gain_dbi: FloatArray
    extra_loss_db: FloatArray
    sensitivity_dbm: FloatArray
    noise_rise_db: FloatArray
    noise_sigma_db: FloatArray
    moving: FloatArray
    extra_sigma_db: FloatArray

    @classmethod
    def of(cls, ends: Sequence[RadioEnd]) -> RadioEnds:
        """Stack ends in order, shape (n,)."""
        return cls(*(np.array([getattr(e, f.name) for e in ends], dtype=np.float64) for f in fields(cls)))

    def as_rows(self) -> RadioEnds:
        """The same ends as a column vector (n, 1): the transmitters of a [tx, rx] matrix."""
        return RadioEnds(*(getattr(self, f.name)[:, np.newaxis] for f in fields(self)))

    def as_columns(self) -> RadioEnds:
        """The same ends as a row vector (1, n): the receivers of a [tx, rx] matrix."""
        return RadioEnds(*(getattr(self, f.name)[np.newaxis, :] for f in fields(self)))


def station_end(station: Station, *, frequency_mhz: float, net_noise: NoiseEnvironment) -> RadioEnd:
    """A member as one end of a link at a frequency in MHz; `net_noise` serves where the member names none."""
    return _end(
        name=station.call_sign,
        kit=station,
        duplexer_loss_db=0.0,
        extra_parts=_extra_parts(station, frequency_mhz),
        moving=station.category is Category.MOBILE,
        frequency_mhz=frequency_mhz,
        net_noise=net_noise,
    )


def repeater_end(repeater: Repeater, *, frequency_mhz: float, net_noise: NoiseEnvironment) -> RadioEnd:
    """A repeater as one end, at its input or its output frequency in MHz; the duplexer counts on both."""
    return _end(
        name=repeater.call_sign,
        kit=repeater,
        duplexer_loss_db=repeater.duplexer_loss_db,
        extra_parts=_named_parts(repeater.surroundings, frequency_mhz),
        moving=False,
        frequency_mhz=frequency_mhz,
        net_noise=net_noise,
    )


def _extra_parts(station: Station, frequency_mhz: float) -> tuple[SurroundingLoss, ...]:
    given = SurroundingLoss("body, vehicle or building", station.extra_loss_db, 0.0, "as given")
    named = _named_parts(station.surroundings, frequency_mhz)
    return (given, *named) if station.extra_loss_db else named


def _named_parts(surroundings: Sequence[Surrounding], frequency_mhz: float) -> tuple[SurroundingLoss, ...]:
    return tuple(surrounding_loss(s, frequency_mhz=frequency_mhz) for s in surroundings)


def _end(
    *,
    name: str,
    kit: Station | Repeater,
    duplexer_loss_db: float,
    extra_parts: tuple[SurroundingLoss, ...],
    moving: bool,
    frequency_mhz: float,
    net_noise: NoiseEnvironment,
) -> RadioEnd:
    environment = kit.noise or net_noise
    feed_loss_db = kit.feed_line.loss_db(frequency_mhz)
    gain_dbi = kit.antenna.gain_dbi_at(frequency_mhz)
    noise = external_noise(
        environment=environment, frequency_mhz=frequency_mhz, local_noise_db=kit.local_noise_db
    )
    figure_db = noise_figure_db(kit.sensitivity_dbm)
    # An antenna below isotropic is a lossy one: it dulls the noise as it dulls the signal.
    antenna_loss_db = max(-gain_dbi, 0.0)
    line_loss_db = feed_loss_db + duplexer_loss_db
    rise_db = float(
        noise_rise_db(
            external_db=noise.total_db,
            receiver_noise_figure_db=figure_db,
            line_loss_db=line_loss_db,
            antenna_loss_db=antenna_loss_db,
        )
    )
    # First-order spread of the rise: man-made share of all the noise power, referred to the antenna.
    all_noise = 10.0 ** ((rise_db + figure_db + line_loss_db + antenna_loss_db) / 10.0)
    man_made_weight = min(10.0 ** (noise.man_made_db / 10.0) / all_noise, 1.0)
    note = f"{environment.value.replace('_', ' ')} noise"
    if kit.local_noise_db:
        note += f" {kit.local_noise_db:+g} dB local"
    if noise.extrapolated:
        note += ", extrapolated"
    return RadioEnd(
        name=name,
        transmit_power_dbm=kit.transmit_power_dbm,
        feed_loss_db=feed_loss_db,
        duplexer_loss_db=duplexer_loss_db,
        antenna_gain_dbi=gain_dbi,
        extra_loss_db=sum(part.loss_db for part in extra_parts),
        sensitivity_dbm=kit.sensitivity_dbm,
        noise_rise_db=rise_db,
        noise_sigma_db=man_made_weight * MAN_MADE[environment].place_sigma_db,
        moving=float(moving),
        extra_sigma_db=math.hypot(*(part.sigma_db for part in extra_parts)),
        noise_note=note,
        extra_parts=extra_parts,
    )
