"""One end of a radio link: what a station or a repeater brings to the budget, one end or many in arrays."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from reach.links.exposure import LEAST_GAIN_DBI
from reach.links.noise import MAN_MADE, external_noise, noise_rise_db
from reach.links.pattern import pattern_loss_db, pattern_words
from reach.links.receiver import noise_figure_db
from reach.links.surroundings import SurroundingLoss, surrounding_loss
from reach.stations import (
    Antenna,
    Category,
    Channel,
    Net,
    NoiseEnvironment,
    Polarisation,
    Repeater,
    Station,
    Surrounding,
)

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class RadioEnd:
    """One end, all at one frequency. Losses are positive dB.

    antenna_gain_dbi : in the antenna's best direction.
    pattern_loss_db : how far the gain towards the other end lies under it; the same for both directions.
    horizontal : 1.0 for horizontal polarisation, 0.0 for vertical.
    desensitising_db : what its own transmitter takes from its receiver, as on a repeater.
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
    pattern_loss_db: float = 0.0
    pattern_note: str = ""
    horizontal: float = 0.0
    desensitising_db: float = 0.0

    @property
    def eirp_dbm(self) -> float:
        """What the antenna radiates in its best direction, isotropic reference, dBm."""
        return self._at_antenna_dbm + self.antenna_gain_dbi

    @property
    def exposure_eirp_dbm(self) -> float:
        """The same for people close by: a whip held to the body counts as a dipole, dBm."""
        return self._at_antenna_dbm + max(self.antenna_gain_dbi, LEAST_GAIN_DBI)

    @property
    def _at_antenna_dbm(self) -> float:
        return self.transmit_power_dbm - self.feed_loss_db - self.duplexer_loss_db


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
    pattern_loss_db: FloatArray
    horizontal: FloatArray
    desensitising_db: FloatArray

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


def station_end(
    station: Station,
    *,
    frequency_mhz: float,
    net_noise: NoiseEnvironment,
    polarisation: Polarisation = Polarisation.VERTICAL,
) -> RadioEnd:
    """A member as one end of a link at a frequency in MHz.

    net_noise, polarisation : serve where the member names none. The antenna counts in its best direction; see
    `towards` and `reach.links.pattern`.
    """
    return _end(
        name=station.call_sign,
        kit=station,
        duplexer_loss_db=0.0,
        extra_parts=_extra_parts(station, frequency_mhz),
        moving=station.category is Category.MOBILE,
        frequency_mhz=frequency_mhz,
        net_noise=net_noise,
        polarisation=polarisation,
        desensitising_db=0.0,
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
        polarisation=Polarisation.VERTICAL,
        desensitising_db=repeater.desensitising_db,
    )


def towards(
    end: RadioEnd, antenna: Antenna, *, frequency_mhz: float, bearing_deg: float, elevation_deg: float
) -> RadioEnd:
    """The same end with its antenna's pattern counted towards a direction."""
    loss_db = pattern_loss_db(
        antenna, frequency_mhz=frequency_mhz, bearing_deg=bearing_deg, elevation_deg=elevation_deg
    )
    note = pattern_words(antenna, bearing_deg=bearing_deg, elevation_deg=elevation_deg)
    return replace(end, pattern_loss_db=float(loss_db), pattern_note=note)


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
    polarisation: Polarisation,
    desensitising_db: float,
) -> RadioEnd:
    environment = kit.noise or net_noise
    feed_loss_db = kit.feed_line.loss_db(frequency_mhz)
    gain_dbi = kit.antenna.gain_dbi_at(frequency_mhz)
    noise = external_noise(
        environment=environment, frequency_mhz=frequency_mhz, local_noise_db=kit.local_noise_db
    )
    figure_db = noise_figure_db(kit.sensitivity_dbm)
    # An antenna below isotropic is a lossy one, a body against it makes it more so: it dulls the noise as it
    # dulls the signal. Where a beam points changes nothing: noise comes from all round.
    at_antenna_db = sum(part.loss_db for part in extra_parts if part.dulls_noise)
    antenna_loss_db = max(at_antenna_db - gain_dbi, 0.0)
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
        horizontal=float((kit.antenna.polarisation or polarisation) is Polarisation.HORIZONTAL),
        desensitising_db=desensitising_db,
    )


def channel_end(net: Net, station: Station, channel: Channel) -> RadioEnd:
    """A member on a simplex channel of its net."""
    return station_end(
        station,
        frequency_mhz=channel.frequency_mhz,
        net_noise=net.noise,
        polarisation=channel.polarisation,
    )
