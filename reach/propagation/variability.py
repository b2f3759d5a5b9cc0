"""How far a real signal strays from its prediction, and the chance that a link works.

The honest account, part by part. All parts are standard deviations of the level in dB, taken as
independent and normal, so they combine as the root of the sum of their squares:

path : what the model misses between the two ends: trees and houses on the way, terrain between grid
    points, the formulas themselves. It goes by what stands in the way, and by how far complete models
    contradict each other (`reach.propagation.path_kind`: 6 dB in the clear to 12 dB). It is one draw for a
    pair of stations, the same in both directions.
station, at either end : siting, what stands around the antenna, how it is mounted, what gain it really
    has. It is one draw for a station and goes into every link of that station, sent or received: a badly
    placed station is bad in all its links at once, so two links that share one must never be counted as
    independent.
receiver noise : how the noise at a receiver differs from the usual of its surroundings
    (`reach.links.noise`). One draw for a station, in everything it hears.
time : from evening to evening, by the air. One draw for a path and an evening. P.1812 speaks of the
    better half of time only, so the worse half is taken from ITM's own climate curves (`time_spread`), with
    what they do not know, wet leaves and snow, as a floor.

The first three are what nobody knows about this path: the same every week, until somebody tries it. Only the
last changes from one evening to the next. So of ten links with a chance of seven in ten about seven work,
nearly always, and three do not, nearly always.

Station figures: 3.2 dB of a moving station's is measured (part common to all receivers at one position,
462.7 MHz handhelds on a campus, University of Utah, MIT licence; 2.5 to 4.0), the rest is our own judgement:
siting 2.5 and feed line, gain and power 2.5 make 3.5 dB at home; the antenna on a car 3; body, whip and
how it is held 5. Two fixed stations make 7.8 dB in the clear, 9.8 behind one edge, 11.2 behind several; a
handheld and
a base 11.0 behind one edge. The measured share common to a handheld's links, 0.25 (0.16 to 0.35), is 0.30
here.
The total contains the spread between places a few metres apart; therefore `location_sigma_db` is NOT added to
it. It would count the same spread twice. It serves who wants the spread between places alone, as P.1812 does
with its location percentage; a loss asked for at another location percentage than 50 has it inside already.

What a chance is: the median margin set against that total, Phi(margin / sigma). Margins and grades are
medians; the chance says how firmly they stand: one half at the limit of workable, about nine in ten 10 dB
above it.

Time, and why two standards share it: P.1812 states losses not exceeded for 1 to 50 % of a year, the
better half. The planner takes its 50 % and nothing else; ITM too is asked for its median alone. How much
worse the other hours are comes from ITM's climate curves, laid around whichever model's median: the
weaker hours' spread where the margin is positive (bad hours decide whether it holds), the stronger hours'
where it is negative (good hours decide whether it comes up). ITM's shift of the median against its own
reference (V_med) is not applied: P.1812's 50 % is a year's median already, and ITM's loss holds the
shift. The curves describe hourly medians over all hours of a year; an evening's net is taken as one such
hour, in the continental temperate climate: a stated assumption. Their heights are effective ones, above the
ground that counts: a repeater on a 500 m hill is not a 10 m mast.

The floor: medians of five hours, evening to evening, of 868 MHz paths of 4 to 109 km stray by 0.8 to 1.9 dB
(CampusIoT, Saint Eynard set, ODbL; our statistics), where the curves give 0.01 dB at 5 km. 1.5 dB in
sight; 2 dB beyond, which is judgement, as no obstructed VHF path was in it.

Nothing is counted twice: the models give medians of time and places, so no spread sits in a loss; the
spread of places within a small square is inside the station's part; the spread of a building or of a kind
of noise is added only to the station that has it, in that station's one draw.

Not in it: fading within seconds (a moving station has its fading allowance in the budget instead),
sporadic E and skywave, faults, and what nobody surveyed. A chance is no promise.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.errors import OutOfRange
from reach.propagation._variability_kernel import normal_cdf_into, time_spreads_into
from reach.propagation.itm.settings import Climate
from reach.propagation.itm.variability import TAIL_FACTOR, TAIL_START
from reach.units import figure, metres_in_words

FloatArray = NDArray[np.float64]

PATH_SIGMA_DB = 8.5  # where the kind of path is not known: that behind one edge


class Siting(Enum):
    """How surely a station's surroundings are known: set up for good, on wheels, or carried."""

    FIXED = "fixed"
    MOBILE = "mobile"
    HANDHELD = "handheld"


STATION_SIGMA_DB = {Siting.FIXED: 3.5, Siting.MOBILE: 4.5, Siting.HANDHELD: 6.0}
UNSTATED_LAND_SIGMA_DB = 3.0  # half the step between kinds of land, where nobody said which (judgement)
EVENING_FLOOR_IN_SIGHT_DB = 1.5
EVENING_FLOOR_BEYOND_DB = 2.0


@dataclass(frozen=True)
class SigmaParts:
    """Standard deviations of a link's margin by cause, dB; floats or arrays that broadcast (see above).

    path_db : one draw a pair, both directions alike.
    tx_station_db, rx_station_db : one draw a station, in all its links.
    time_db : one draw a path and evening.
    rx_noise_db : one draw a station, in all it hears.
    """

    path_db: float | FloatArray
    tx_station_db: float | FloatArray
    rx_station_db: float | FloatArray
    time_db: float | FloatArray = 0.0
    rx_noise_db: float | FloatArray = 0.0

    @property
    def total_db(self) -> FloatArray:
        """Root of the sum of squares, dB; shape of the parts broadcast together."""
        parts = (self.path_db, self.tx_station_db, self.rx_station_db, self.time_db, self.rx_noise_db)
        return np.asarray(np.sqrt(sum(np.asarray(part, dtype=np.float64) ** 2 for part in parts)))

    @property
    def lasting_db(self) -> FloatArray:
        """What nobody knows about the path, dB: the same every week. Everything but the evening."""
        parts = (self.path_db, self.tx_station_db, self.rx_station_db, self.rx_noise_db)
        return np.asarray(np.sqrt(sum(np.asarray(part, dtype=np.float64) ** 2 for part in parts)))

    def at(self, index: int) -> SigmaParts:
        """The parts of one of many, all of them arrays of one dimension."""
        path, tx, rx, time, noise = (
            float(np.asarray(part)[index])
            for part in (
                self.path_db,
                self.tx_station_db,
                self.rx_station_db,
                self.time_db,
                self.rx_noise_db,
            )
        )
        return SigmaParts(path, tx, rx, time, noise)

    def correlation_with_reverse(self, back: SigmaParts) -> FloatArray:
        """Of this direction's margin with that of the way back: the noise alone is their own."""
        path = np.asarray(self.path_db) * back.path_db + np.asarray(self.time_db) * back.time_db
        # the two stations summed first, so that both directions give the very same number
        stations = (
            np.asarray(self.tx_station_db) * back.rx_station_db
            + np.asarray(self.rx_station_db) * back.tx_station_db
        )
        shared = path + stations
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.asarray(np.minimum(shared / (self.total_db * back.total_db), 1.0))

    @classmethod
    def usual(
        cls,
        *,
        tx: Siting,
        rx: Siting,
        path_db: float = PATH_SIGMA_DB,
        time_db: float | FloatArray = 0.0,
        rx_noise_db: float | FloatArray = 0.0,
    ) -> SigmaParts:
        """The usual parts for two kinds of station, path_db of `reach.propagation.path_kind`."""
        return cls(path_db, STATION_SIGMA_DB[tx], STATION_SIGMA_DB[rx], time_db, rx_noise_db)


def normal_cdf(x: ArrayLike) -> FloatArray:
    """Share of a standard normal variable below x, any shape; NaN stays NaN; relative error about 1e-15."""
    values = np.asarray(x, dtype=np.float64)
    out = np.empty(values.size)
    normal_cdf_into(np.ascontiguousarray(values).ravel(), out)
    return out.reshape(values.shape)


def normal_quantile(share: ArrayLike) -> FloatArray:
    """x below which that share (0..1, both excluded) of a standard normal variable lies; any shape.

    Raises : OutOfRange naming the first element outside.
    """
    shares = np.asarray(share, dtype=np.float64)
    bad = np.flatnonzero(~((shares > 0.0) & (shares < 1.0)))
    if bad.size:
        raise OutOfRange(
            f"share {shares.flat[bad[0]]} (element {bad[0]}) must lie between 0 and 1, both excluded"
        )
    inverse = NormalDist().inv_cdf
    return np.array([inverse(p) for p in shares.ravel().tolist()]).reshape(shares.shape)


def chance_of_working(margin_db: ArrayLike, sigma_db: ArrayLike) -> FloatArray:
    """Probability that a link whose predicted margin is margin_db has one above zero: Phi(margin / sigma).

    Any shapes that broadcast. sigma_db : > 0; where 0 the chance is 1, 1/2 or 0 by the sign of the margin.
    An infinite margin gives 0 or 1; NaN stays NaN.
    Raises : OutOfRange naming the first negative sigma.
    Source : normal distribution. Check : margin 8, sigma 8 gives 0.84134.
    """
    margin, sigma = np.broadcast_arrays(
        np.asarray(margin_db, dtype=np.float64), np.asarray(sigma_db, dtype=np.float64)
    )
    bad = np.flatnonzero(sigma < 0.0)
    if bad.size:
        raise OutOfRange(
            f"sigma {sigma.flat[bad[0]]:g} dB (element {bad[0]}) is negative; it must be 0 or more"
        )
    with np.errstate(divide="ignore", invalid="ignore"):
        deviations = margin / sigma
    certain = (sigma == 0.0) & (margin == 0.0)
    return normal_cdf(np.where(certain, 0.0, deviations))


def margin_for_chance_db(chance: ArrayLike, sigma_db: ArrayLike) -> FloatArray:
    """Margin, dB, at which `chance_of_working` gives that chance (0..1, both excluded)."""
    return np.asarray(normal_quantile(chance) * np.asarray(sigma_db, dtype=np.float64))


@dataclass(frozen=True)
class TimeSpread:
    """How hourly medians of a path's loss spread over the year, dB; arrays of one shape.

    median_shift_db : level above the reference at the median hour (V_med).
    worse_db, better_db : standard deviations of the weaker and of the stronger half of hours.
    """

    climate: Climate
    median_shift_db: FloatArray
    worse_db: FloatArray
    better_db: FloatArray

    def excess_loss_db(self, share_of_evenings: float) -> FloatArray:
        """Loss above the median hour's, not exceeded in that share (0..1) of evenings; negative below 1/2.

        Source : ITM 1.2.2, Y_T with its better-half tail.
        """
        z = -float(normal_quantile(share_of_evenings))
        if z < 0.0:
            return np.asarray(-z * self.worse_db)
        z_tail = float(TAIL_START[self.climate - 1])
        factor = float(TAIL_FACTOR[self.climate - 1])
        steps = z if z <= z_tail else z_tail + factor * (z - z_tail)
        return np.asarray(-steps * self.better_db)

    def sigma_db(self, margin_db: ArrayLike) -> FloatArray:
        """The one that decides, dB: the worse half's where the margin is positive, else the better's.

        One normal spread in place of two unlike halves: the chance from it is at most 0.035 too low (margin
        near 0, some 80 km), never too high; below 30 km at most 0.013. Checked by Monte Carlo.
        """
        return np.where(np.asarray(margin_db, dtype=np.float64) >= 0.0, self.worse_db, self.better_db)


def time_spread(
    *,
    distance_m: ArrayLike,
    frequency_mhz: ArrayLike,
    tx_effective_height_m: ArrayLike,
    rx_effective_height_m: ArrayLike,
    climate: Climate = Climate.CONTINENTAL_TEMPERATE,
) -> TimeSpread:
    """Spread over time of paths, by ITM's climate curves; arguments broadcast.

    effective heights : above the ground that counts, m, as `ItmModel.details` reports them; the height above
        ground serves where nothing better is known. distance_m : NaN gives NaN.
    Valid : 20 to 20 000 MHz. Raises : OutOfRange naming the first value at or below zero, or the frequency.
    Source : ITM 1.2.2, variability (NBS Technical Note 101, section 10).
    """
    given = {
        "distance": (distance_m, "m"),
        "frequency": (frequency_mhz, "MHz"),
        "transmitter effective height": (tx_effective_height_m, "m"),
        "receiver effective height": (rx_effective_height_m, "m"),
    }
    arrays = np.broadcast_arrays(*(np.asarray(values, dtype=np.float64) for values, _ in given.values()))
    for (name, (_, unit)), values in zip(given.items(), arrays, strict=True):
        lowest, highest = (20.0, 20_000.0) if name == "frequency" else (0.0, np.inf)
        bad = np.flatnonzero((values < lowest) | (values > highest) | (values <= 0.0))
        if bad.size:
            bounds = "20 to 20 000 MHz" if name == "frequency" else f"above 0 {unit}"
            raise OutOfRange(
                f"{name} {figure(values.flat[bad[0]])} {unit} (element {bad[0]}); valid: {bounds}"
            )
    # copied: what numpy broadcasts must not be written to, and says so when compiled code asks
    distance, frequency, h_e1, h_e2 = (np.array(values, order="C").ravel() for values in arrays)
    out = np.empty((3, distance.size))
    time_spreads_into(int(climate), distance, frequency, h_e1, h_e2, out)
    shape = arrays[0].shape
    return TimeSpread(climate, out[0].reshape(shape), out[1].reshape(shape), out[2].reshape(shape))


def location_sigma_db(
    *,
    frequency_mhz: ArrayLike,
    cell_m: float = 100.0,
    antenna_height_m: ArrayLike = 0.0,
    clutter_height_m: ArrayLike = 10.0,
) -> FloatArray:
    """Standard deviation of the level between places within a square of side cell_m, dB.

    Full with the antenna below the clutter around it, falling to none 10 m above it.
    Valid : cell_m 50 to 1000 m (from memory). Raises : OutOfRange.
    Source : Rec. ITU-R P.1812-7, 4.7: sigma = u (0.52 + 0.024 f[GHz]) w^0.28.
    """
    if not 50.0 <= cell_m <= 1000.0:
        raise OutOfRange(
            f"cell side is {metres_in_words(cell_m)}; location variability is valid from 50 to 1000 m"
        )
    frequency_ghz = np.asarray(frequency_mhz, dtype=np.float64) / 1000.0
    above_m = np.asarray(antenna_height_m, dtype=np.float64) - np.asarray(clutter_height_m, dtype=np.float64)
    u = np.clip(1.0 - above_m / 10.0, 0.0, 1.0)
    return np.asarray(u * (0.52 + 0.024 * frequency_ghz) * cell_m**0.28)


class LocationKind(Enum):
    """Receiver surroundings of the older location rule; the value is its constant K."""

    RURAL_MOBILE = 0.5
    ROOFTOP = 1.0
    URBAN_MOBILE = 1.2


def area_location_sigma_db(*, frequency_mhz: ArrayLike, kind: LocationKind) -> FloatArray:
    """Standard deviation of the level between places within about 500 m by 500 m, dB.

    Valid : 30 to 3000 MHz; the 10 m band is extrapolated.
    Source : Rec. ITU-R P.1546 before edition 6, from memory: sigma = K + 1.3 log10 f[MHz].
    """
    return np.asarray(kind.value + 1.3 * np.log10(np.asarray(frequency_mhz, dtype=np.float64)))
