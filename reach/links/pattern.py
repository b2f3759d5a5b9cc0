"""Gain towards a direction: how far it lies under an antenna's best, for beams and for upright omnis.

Two published shapes, each from the gain alone:

    beams   Rec. ITU-R F.1336-5, recommends 4: low-gain antennas of circular symmetry, below about 20 dBi
    omnis   Rec. ITU-R F.1336-5, recommends 2.1: omnidirectional antennas, in elevation

Both from memory of the text, the second checked against pycraf's (tests/published/test_f1336.py). F.1336
states 1 to 3 GHz and 0.4 to 70 GHz; on lower bands the shapes are used for want of others: what ties width to
gain is geometry, not frequency. They are envelopes: real nulls are deeper. A 3-element beam of 7.5 dBi comes
out 69 degrees wide and 15.5 dB down at the back, 10 dBi 52 degrees and 18 dB, 13 dBi 37 degrees and 21 dB:
front-to-back ratios as amateurs quote them (common practice, no source). An antenna of a dipole's gain or
less counts alike in every direction: within 10 degrees of the horizon a dipole loses 0.3 dB, and nobody holds
a hand-held upright.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.stations import Aim, Antenna, Beam
from reach.units import DIPOLE_GAIN_DBI

FloatArray = NDArray[np.float64]

CROSS_POLAR_LOSS_DB = 15.0  # 20 in the clear, 10 to 15 behind hills and houses: common practice, no source
BACK_GAIN_DBI = -8.0  # F.1336, recommends 4: beyond phi2
LEAST_LOSS_DB = 0.05  # less in elevation is no line of anybody's budget
SIDE_LOBE_K = 0.7  # F.1336, recommends 2: typical antennas


def beam_width_deg(gain_dbi: float) -> float:
    """Width between half-power points of a beam. Source : F.1336-5, recommends 4, phi3."""
    return math.sqrt(27_000.0 * 10.0 ** (-0.1 * gain_dbi))


def elevation_width_deg(gain_dbi: float) -> float:
    """Width in elevation between half-power points of an omni. Source : F.1336-5, recommends 2, theta3."""
    return 107.6 * math.pow(10.0, -0.1 * gain_dbi)


def beam_loss_db(
    off_axis_deg: ArrayLike, *, gain_dbi: float, front_to_back_db: float | None = None
) -> FloatArray:
    """Loss of a beam at an angle from where it points, dB, never negative, never falling as the angle grows.

    off_axis_deg : 0 to 180, any shape. front_to_back_db : the most it loses; None takes the pattern's own.
    Source : F.1336-5, recommends 4 (from memory).
    """
    angle = np.asarray(off_axis_deg, dtype=np.float64)
    phi3 = beam_width_deg(gain_dbi)
    near = 12.0 * (angle / phi3) ** 2
    beyond = 14.0 + 32.0 * np.log10(np.maximum(angle / (1.9 * phi3), 1.0))  # phi1 = 1.9 phi3
    most_db = max(gain_dbi - BACK_GAIN_DBI, 0.0) if front_to_back_db is None else front_to_back_db
    return np.minimum(np.where(angle < 1.08 * phi3, near, beyond), most_db)


def omni_loss_db(elevation_deg: ArrayLike, *, gain_dbi: float) -> FloatArray:
    """Loss of an upright omni at an angle over or under the horizontal, dB, never negative.

    Nothing for a dipole's gain or less, nor below 0.05 dB; NaN stays NaN.
    Source : F.1336-5, recommends 2.1, k = 0.7 (from memory).
    """
    angle = np.abs(np.asarray(elevation_deg, dtype=np.float64))
    if gain_dbi <= DIPOLE_GAIN_DBI:
        return np.zeros_like(angle)
    share = angle / elevation_width_deg(gain_dbi)
    side = 12.0 - 10.0 * np.log10(np.maximum(share, 1.0) ** -1.5 + SIDE_LOBE_K)
    loss_db = np.minimum(12.0 * share**2, side)
    return np.where(loss_db < LEAST_LOSS_DB, 0.0, loss_db)


def pattern_loss_db(
    antenna: Antenna, *, frequency_mhz: float, bearing_deg: ArrayLike, elevation_deg: ArrayLike = 0.0
) -> FloatArray:
    """How far the gain towards a direction lies under the antenna's best at a frequency, dB, never negative.

    bearing_deg : clockwise from true north; elevation_deg : over the horizontal; shapes that broadcast. NaN
    stays NaN. A beam that turns points at the bearing asked, level; one that may point anywhere has its mean
    gain on every bearing.
    """
    gain_dbi = antenna.gain_dbi_at(frequency_mhz)
    bearing = np.asarray(bearing_deg, dtype=np.float64)
    elevation = np.asarray(elevation_deg, dtype=np.float64)
    beam = antenna.beam
    if beam is None:
        return omni_loss_db(elevation, gain_dbi=gain_dbi) + 0.0 * bearing
    if beam.aim is Aim.ANYWHERE:
        return gain_dbi - average_gain_dbi(gain_dbi, beam=beam) + 0.0 * (bearing + elevation)
    turned_deg = 0.0 * bearing if beam.aim is Aim.TURNS else bearing - beam.bearing_deg
    cosine = np.cos(np.radians(elevation)) * np.cos(np.radians(turned_deg))
    off_axis_deg = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    return beam_loss_db(off_axis_deg, gain_dbi=gain_dbi, front_to_back_db=beam.front_to_back_db)


def gain_towards_dbi(
    antenna: Antenna, *, frequency_mhz: float, bearing_deg: ArrayLike, elevation_deg: ArrayLike = 0.0
) -> FloatArray:
    """Gain towards directions, dBi; see `pattern_loss_db`."""
    loss_db = pattern_loss_db(
        antenna, frequency_mhz=frequency_mhz, bearing_deg=bearing_deg, elevation_deg=elevation_deg
    )
    return antenna.gain_dbi_at(frequency_mhz) - loss_db


def average_gain_dbi(gain_dbi: float, *, beam: Beam) -> float:
    """Mean power gain of a beam over all bearings: what it is worth when nobody knows where it points."""
    off_axis_deg = np.arange(0.0, 360.0, 0.5)
    off_axis_deg = np.minimum(off_axis_deg, 360.0 - off_axis_deg)
    loss_db = beam_loss_db(off_axis_deg, gain_dbi=gain_dbi, front_to_back_db=beam.front_to_back_db)
    return gain_dbi + 10.0 * math.log10(float(np.mean(10.0 ** (-loss_db / 10.0))))


def aim_words(antenna: Antenna) -> str:
    """Where a beam points, 'beam at 31 degrees (QK3ABC)'; empty for an antenna without a direction."""
    beam = antenna.beam
    if beam is None:
        return ""
    if beam.aim is Aim.FIXED:
        return f"beam at {beam.bearing_deg:.0f} degrees" + (f" ({beam.towards})" if beam.towards else "")
    return "beam turned to whoever it works" if beam.aim is Aim.TURNS else "beam of unknown direction"


def pattern_words(antenna: Antenna, *, bearing_deg: float, elevation_deg: float) -> str:
    """Why the gain towards a direction is less than the best, in a few words."""
    beam = antenna.beam
    leaves = f"the path leaves at {elevation_deg:+.1f} degrees"
    if beam is None:
        return leaves
    if beam.aim is Aim.ANYWHERE:
        return "beam of unknown direction: its mean over all bearings"
    if beam.aim is Aim.TURNS:
        return f"turned to the other end; {leaves}"
    off_deg = abs((bearing_deg - beam.bearing_deg + 180.0) % 360.0 - 180.0)
    return f"beam at {beam.bearing_deg:.0f} degrees, {off_deg:.0f} beside the other end"
