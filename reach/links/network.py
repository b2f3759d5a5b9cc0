"""Every pair of stations, both directions: the numbers that plans and drawings work from.

Matrices are indexed [tx, rx]: element [i, j] says how j hears i. Where there is no radio path at all
(internet-linked member, a station with itself) chance is 0 and dB values are NaN.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from reach.links.grade import Grade, grade_of
from reach.links.lasting import LastingDoubt
from reach.notes import Note
from reach.propagation.both_ways import chance_of_both
from reach.propagation.path_kind import PathKind
from reach.propagation.variability import SigmaParts
from reach.stations import Channel, Net, Repeater

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class DirectedLink:
    """How `rx` hears `tx`. margin_db : over workable; fresnel_clearance : worst, in first-zone radii.

    sigma_db : of the margin, behind `chance`; spread : its parts, the evening apart from what nobody knows.
        kind : what stands in the way. tx_land_db, rx_land_db : what path_loss_db holds for either
        antenna below trees or roofs. models_apart_db : ITM's loss over P.1812's, both over bare ground.
        None and NaN where not surveyed.
    bearing_deg, elevation_deg : of the path where it leaves `tx`.
    """

    tx: str
    rx: str
    frequency_mhz: float
    distance_m: float
    bearing_deg: float
    path_loss_db: float
    received_dbm: float
    margin_db: float
    chance: float
    line_of_sight: bool
    fresnel_clearance: float
    sigma_db: float = float("nan")
    spread: SigmaParts | None = None
    kind: PathKind | None = None
    tx_land_db: float = 0.0
    rx_land_db: float = 0.0
    models_apart_db: float = float("nan")
    elevation_deg: float = 0.0

    @property
    def grade(self) -> Grade:
        """Grade of the median margin."""
        return grade_of(self.margin_db)


def chance_both_directions(there: DirectedLink, back: DirectedLink) -> float:
    """Chance that a link works both ways, a little below the weaker: its directions share path and stations.

    Without the parts of their spreads, the weaker's.
    """
    if there.spread is None or back.spread is None or not there.chance or not back.chance:
        return min(there.chance, back.chance)  # no radio for the band: no level, no chance
    return _chance_both(
        there.margin_db / there.sigma_db, back.margin_db / back.sigma_db, there.spread, back.spread
    )


@lru_cache(maxsize=1 << 15)  # plans look at the same links over and over: 20,000 times for the demo's backup
def _chance_both(
    there_share: float, back_share: float, there_spread: SigmaParts, back_spread: SigmaParts
) -> float:
    """The chance of both directions, margins in units of their spreads."""
    correlation = there_spread.correlation_with_reverse(back_spread)
    return float(chance_of_both(there_share, back_share, correlation))


@dataclass(frozen=True)
class SimplexNetwork:
    """All stations on one simplex channel. Matrices (n, n) [tx, rx], in the order of `call_signs`.

    required_dbm : level each receiver needs at its socket for workable speech; received - required = margin.
    sigma_db : standard deviation behind `chance` (chance = Phi(margin / sigma)), dB. Its parts, so that a
        simulation can draw them apart:
            sigma_db[i, j]^2 = path_sigma_db[i, j]^2 + station_sigma_db[i]^2 + station_sigma_db[j]^2
                               + receive_sigma_db[j]^2 + time_sigma_db[i, j]^2
        path_sigma_db : of the path's own loss, symmetric, the same deviation in both directions;
        station_sigma_db (n,) : of a station's site, shared by all its paths, transmitting and receiving;
        receive_sigma_db (n,) : of the noise at a receiver, shared by all it hears;
        time_sigma_db : from evening to evening; one draw for a path, scaled per direction.
        None in a network built without them.
    land_loss_db : what path_loss_db holds for station i below trees or roofs on its path to j, [i, j].
    path_kind : codes of `PathKind`; models_apart_db : ITM's loss over P.1812's, both over bare ground.
    pair_chance : of both directions, where it does not follow from the parts (see `chance_both_ways`).
    model : name of the path-loss model behind path_loss_db.
    elevation_deg : how steeply the path leaves tx towards rx; effective_height_m : of tx above the ground
        that counts on its path to rx; None in a network built without.
    lasting : what is left unknown once reports have come, in place of the path's, station's and noise's
    parts;
        None while there are none.
    """

    net: Net
    channel: Channel
    call_signs: tuple[str, ...]
    distance_m: FloatArray
    bearing_deg: FloatArray
    path_loss_db: FloatArray
    received_dbm: FloatArray
    margin_db: FloatArray
    chance: FloatArray
    sigma_db: FloatArray
    line_of_sight: NDArray[np.bool_]
    fresnel_clearance: FloatArray
    warnings: tuple[Note, ...] = ()
    required_dbm: FloatArray | None = None
    path_sigma_db: FloatArray | None = None
    station_sigma_db: FloatArray | None = None
    receive_sigma_db: FloatArray | None = None
    time_sigma_db: FloatArray | None = None
    land_loss_db: FloatArray | None = None
    path_kind: NDArray[np.int8] | None = None
    models_apart_db: FloatArray | None = None
    pair_chance: FloatArray | None = None
    model: str = ""
    elevation_deg: FloatArray | None = None
    effective_height_m: FloatArray | None = None
    lasting: LastingDoubt | None = None

    @property
    def spread(self) -> SigmaParts | None:
        """The parts of sigma_db, broadcasting to [tx, rx]; None in a network built without them."""
        path, site = self.path_sigma_db, self.station_sigma_db
        noise, time = self.receive_sigma_db, self.time_sigma_db
        if path is None or site is None or noise is None or time is None:
            return None
        if self.lasting is not None:
            return self.lasting.parts(time)
        return SigmaParts(path, site[:, np.newaxis], site[np.newaxis, :], time, noise[np.newaxis, :])

    @cached_property
    def chance_both_ways(self) -> FloatArray:
        """(n, n) symmetric chance that a pair works both ways, 0 without a path.

        Both directions share path, stations and evening: a little below the chance of the weaker one. Without
        the parts of the spread, the weaker one's.
        """
        if self.pair_chance is not None:
            return self.pair_chance
        if self.spread is None:
            return np.asarray(np.minimum(self.chance, self.chance.T))
        one, other = np.triu_indices(len(self.call_signs), 1)
        both = np.zeros_like(self.chance)
        both[one, other] = self._both_ways(one, other)
        return both + both.T

    def with_pairs_of(self, call_sign: str, before: SimplexNetwork) -> SimplexNetwork:
        """This network with `chance_both_ways` worked for one station's pairs only, all others as before.

        before : the same network but for what this one says of that station.
        """
        if self.spread is None:
            return replace(self, pair_chance=np.minimum(self.chance, self.chance.T))
        at, n = self.index(call_sign), len(self.call_signs)
        both = before.chance_both_ways.copy()
        rest = np.delete(np.arange(n), at)
        one, other = np.minimum(rest, at), np.maximum(rest, at)
        both[one, other] = both[other, one] = self._both_ways(one, other)
        return replace(self, pair_chance=both)

    def _both_ways(self, one: NDArray[np.intp], other: NDArray[np.intp]) -> FloatArray:
        """The chance that each of these pairs works both ways, from the parts of its spread."""
        spread = self.spread
        assert spread is not None
        with np.errstate(invalid="ignore", divide="ignore"):  # no path has no spread
            there = self.margin_db / self.sigma_db
        back = SigmaParts(
            np.asarray(spread.path_db).T,
            spread.rx_station_db,
            spread.tx_station_db,
            np.asarray(spread.time_db).T,
            np.broadcast_to(spread.rx_noise_db, self.margin_db.shape).T,
        )
        correlation = spread.correlation_with_reverse(back)
        return np.asarray(
            np.nan_to_num(
                chance_of_both(there[one, other], there[other, one], correlation[one, other]), nan=0.0
            )
        )

    def index(self, call_sign: str) -> int:
        """Position of a call sign; KeyError when absent."""
        return self._numbers[call_sign.upper()]

    @cached_property
    def _numbers(self) -> dict[str, int]:
        return {call_sign: number for number, call_sign in enumerate(self.call_signs)}

    def link(self, tx: str, rx: str) -> DirectedLink:
        """How `rx` hears `tx`."""
        i, j = self.index(tx), self.index(rx)
        return DirectedLink(
            tx=self.call_signs[i],
            rx=self.call_signs[j],
            frequency_mhz=self.channel.frequency_mhz,
            distance_m=float(self.distance_m[i, j]),
            bearing_deg=float(self.bearing_deg[i, j]),
            path_loss_db=float(self.path_loss_db[i, j]),
            received_dbm=float(self.received_dbm[i, j]),
            margin_db=float(self.margin_db[i, j]),
            chance=float(self.chance[i, j]),
            line_of_sight=bool(self.line_of_sight[i, j]),
            fresnel_clearance=float(self.fresnel_clearance[i, j]),
            sigma_db=float(self.sigma_db[i, j]),
            spread=self._spread_of(i, j),
            kind=None if self.path_kind is None else PathKind(int(self.path_kind[i, j])),
            tx_land_db=0.0 if self.land_loss_db is None else float(self.land_loss_db[i, j]),
            rx_land_db=0.0 if self.land_loss_db is None else float(self.land_loss_db[j, i]),
            models_apart_db=np.nan if self.models_apart_db is None else float(self.models_apart_db[i, j]),
            elevation_deg=0.0 if self.elevation_deg is None else float(self.elevation_deg[i, j]),
        )

    def _spread_of(self, i: int, j: int) -> SigmaParts | None:
        if self._spread_matrices is None or np.isnan(self.margin_db[i, j]):
            return None
        return SigmaParts(*(float(part[i, j]) for part in self._spread_matrices))

    @cached_property
    def _spread_matrices(self) -> tuple[FloatArray, ...] | None:
        """The parts of `spread` in the order of `SigmaParts`, each (n, n); 200 stations read 40,000 times."""
        spread = self.spread
        if spread is None:
            return None
        parts = (
            spread.path_db, spread.tx_station_db, spread.rx_station_db, spread.time_db, spread.rx_noise_db
        )  # fmt: skip
        return tuple(np.broadcast_to(part, self.margin_db.shape) for part in parts)


@dataclass(frozen=True)
class RepeaterMember:
    """One member and one repeater.

    talk_in : the repeater hears the member; talk_out : the member hears the repeater.
    """

    call_sign: str
    talk_in: DirectedLink
    talk_out: DirectedLink

    @property
    def gets_in(self) -> bool:
        """The repeater hears the member well enough to count."""
        return self.talk_in.grade.counts

    @property
    def hears(self) -> bool:
        """The member hears the repeater well enough to count."""
        return self.talk_out.grade.counts

    @property
    def weaker_margin_db(self) -> float:
        """Margin of the weaker direction over workable, dB."""
        return min(self.talk_in.margin_db, self.talk_out.margin_db)

    @property
    def chance(self) -> float:
        """Chance that both directions work (see `chance_both_directions`)."""
        return chance_both_directions(self.talk_in, self.talk_out)


@dataclass(frozen=True)
class RepeaterNetwork:
    """All members with a radio path against one repeater; internet-linked ones are listed apart."""

    net: Net
    repeater: Repeater
    members: tuple[RepeaterMember, ...]
    no_radio: tuple[str, ...] = ()
    warnings: tuple[Note, ...] = ()
    model: str = ""

    def member(self, call_sign: str) -> RepeaterMember:
        """The member with that call sign, any case; KeyError when it is unknown or has no radio path."""
        return self._by_call_sign[call_sign.upper()]

    @cached_property
    def _by_call_sign(self) -> dict[str, RepeaterMember]:
        """Plans ask by the hundred thousand; of two of a name, the first."""
        return {member.call_sign: member for member in reversed(self.members)}
