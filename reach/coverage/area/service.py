"""From path loss to service: how a chosen kind of station gets in and hears, from every cell."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from reach.coverage.sweep.grid import SiteGrid
from reach.coverage.sweep.loss import AreaLoss
from reach.coverage.sweep.path import AreaModel, AreaPath
from reach.inputs import equipment
from reach.links.budget import received_levels_dbm, required_levels_dbm
from reach.links.ends import RadioEnd, RadioEnds, repeater_end, station_end
from reach.links.grade import GRADES, Grade
from reach.links.land import counted_once, net_cover, stated_land
from reach.links.lasting import HeardEnd
from reach.links.pattern import pattern_loss_db
from reach.links.receiver import FmMode, fm_mode
from reach.links.spread import site_sigma_db, time_sigma_db
from reach.machinery.parallel import over_tasks
from reach.propagation.both_ways import chance_of_both
from reach.propagation.choose import choose_model
from reach.propagation.path_kind import PathKind, kind_sigma_db
from reach.propagation.typical_land.model import Cover
from reach.propagation.typical_land.rule import LAND_HEIGHT_M
from reach.stations import (
    Aim,
    Antenna,
    Category,
    Channel,
    Net,
    NoiseEnvironment,
    Polarisation,
    Position,
    Repeater,
    Station,
)

Raster = NDArray[np.float32]

DISTANCE_STEPS = 32
LOWEST_MARGIN_DB, MARGIN_STEP_DB = -100.0, 0.5  # of a table that is linear between, 2e-4 at most off
_ROWS_AT_ONCE = 128  # of double-precision bearings: a few MB


class StationKind(Enum):
    """The kind of station one asks about: what it is, said as people say it."""

    HANDHELD = "handheld, in the hand"
    MOBILE = "mobile"
    BASE = "base station"

    @property
    def category(self) -> Category:
        """Its category in the net, and so its usual equipment."""
        return {"HANDHELD": Category.PORTABLE, "MOBILE": Category.MOBILE, "BASE": Category.BASE}[self.name]


def usual_station(kind: StationKind, *, noise: NoiseEnvironment | None = None) -> Station:
    """A station of a kind with the usual equipment of its category: handheld 5 W at 1.5 m, mobile 50 W at 2
    m, base 50 W at 9 m (common practice, no source). noise : None for the net's environment."""
    return equipment.usual_station(kind.category, name=kind.value, noise=noise)


@dataclass(frozen=True)
class Hub:
    """The fixed end of an area plan: a repeater or a member.

    input_mhz : what it receives on; output_mhz : what it transmits on; equal on simplex. land_m : height of
    what is said to stand round it, m, 0 for open land; None where nobody said. heard : what reports have
    taught of it; None leaves everything as predicted.
    """

    call_sign: str
    name: str
    position: Position
    antenna: Antenna
    input_mhz: float
    output_mhz: float
    receiving: RadioEnd
    sending: RadioEnd
    sigma_db: float
    mode: FmMode
    polarisation: Polarisation
    land_m: float | None = None
    heard: HeardEnd | None = None

    @property
    def antenna_height_m(self) -> float:
        """Its antenna above ground."""
        return self.antenna.height_m

    @property
    def middle_mhz(self) -> float:
        """The frequency the path is computed at, between input and output."""
        return math.sqrt(self.input_mhz * self.output_mhz)

    @property
    def path_scale(self) -> float:
        """By how much the stated spread of paths was off, by what was heard; 1 without reports."""
        return 1.0 if self.heard is None else self.heard.path_scale

    @property
    def both_ways_db2(self) -> float:
        """What its own end's strays in both directions have in common: their covariance, dB squared."""
        return self.sigma_db**2 if self.heard is None else self.heard.covariance_db2

    def hears(self, margin_db: float, *, other_sigma_db: float) -> tuple[float, float]:
        """Margin and spread, dB, of another end heard here, as reports leave both; path and air apart.

        margin_db : as predicted; other_sigma_db : of the other end's own site.
        """
        if self.heard is None:
            return margin_db, math.hypot(other_sigma_db, self.sigma_db, self.receiving.noise_sigma_db)
        return margin_db + self.heard.in_db, math.hypot(other_sigma_db, self.heard.in_sigma_db)

    def is_heard(
        self, margin_db: float, *, other_sigma_db: float, other_noise_sigma_db: float
    ) -> tuple[float, float]:
        """The same of another end that hears this one. other_noise_sigma_db : of its noise."""
        own_db, own_sigma_db = 0.0, self.sigma_db
        if self.heard is not None:
            own_db, own_sigma_db = self.heard.out_db, self.heard.out_sigma_db
        return margin_db + own_db, math.hypot(other_sigma_db, own_sigma_db, other_noise_sigma_db)


def said_land_m(party: Station | Repeater) -> float | None:
    """Height of what is said to stand round a station, m; None where nobody said."""
    land = stated_land(party)
    return None if land is None else LAND_HEIGHT_M[land]


def repeater_hub(repeater: Repeater, net: Net) -> Hub:
    """A repeater as the hub: cells talk in on its input and hear its output."""
    cover = net_cover(net)
    repeater = counted_once(repeater, choose_model(net.model, repeater.input_mhz, cover=cover).sees)
    return Hub(
        call_sign=repeater.call_sign,
        name=repeater.name,
        position=repeater.position,
        antenna=repeater.antenna,
        input_mhz=repeater.input_mhz,
        output_mhz=repeater.output_mhz,
        receiving=repeater_end(repeater, frequency_mhz=repeater.input_mhz, net_noise=net.noise),
        sending=repeater_end(repeater, frequency_mhz=repeater.output_mhz, net_noise=net.noise),
        sigma_db=site_sigma_db(repeater, cover),
        mode=fm_mode(repeater.deviation_khz),
        polarisation=Polarisation.VERTICAL,
        land_m=said_land_m(repeater),
    )


def station_hub(station: Station, channel: Channel, net: Net) -> Hub:
    """A member as the hub of a simplex channel."""
    cover = net_cover(net)
    station = counted_once(station, choose_model(net.model, channel.frequency_mhz, cover=cover).sees)
    end = station_end(
        station,
        frequency_mhz=channel.frequency_mhz,
        net_noise=net.noise,
        polarisation=channel.polarisation,
    )
    return Hub(
        call_sign=station.call_sign,
        name=station.name,
        position=station.position,
        antenna=station.antenna,
        input_mhz=channel.frequency_mhz,
        output_mhz=channel.frequency_mhz,
        receiving=end,
        sending=end,
        sigma_db=math.hypot(site_sigma_db(station, cover), end.extra_sigma_db),
        mode=fm_mode(channel.deviation_khz),
        polarisation=channel.polarisation,
        land_m=said_land_m(station),
    )


def area_path(
    hub: Hub,
    station: Station,
    *,
    k_factor: float,
    model: AreaModel = AreaModel.TYPICAL_LAND,
    cover: Cover = Cover.USUAL,
) -> AreaPath:
    """What to sweep for a hub and a kind of station in the cells."""
    return AreaPath(
        frequency_mhz=hub.middle_mhz,
        site_height_m=hub.antenna_height_m,
        far_height_m=station.antenna.height_m,
        k_factor=k_factor,
        polarisation=hub.polarisation,
        model=model,
        cover=cover,
        site_land_m=hub.land_m,
        far_land_m=said_land_m(station),
    )


@dataclass(frozen=True)
class AreaService:
    """How the cells are served, all (n, n) float32 as the grid, NaN where unknown.

    talk_in_margin_db : how the hub hears a station in the cell, dB over workable; talk_out_margin_db : how
    the cell
    hears the hub; chance : that both directions work; the same path, so the weaker one
    decides.
    """

    loss: AreaLoss
    hub: Hub
    station: Station
    talk_in_margin_db: Raster
    talk_out_margin_db: Raster
    chance: Raster

    @property
    def grid(self) -> SiteGrid:
        """The cells."""
        return self.loss.grid

    @property
    def weaker_margin_db(self) -> Raster:
        """The smaller of the two margins, dB over workable."""
        weaker: Raster = np.minimum(self.talk_in_margin_db, self.talk_out_margin_db)
        return weaker

    @property
    def readability(self) -> NDArray[np.int8]:
        """Readability 1 to 5 of the weaker direction; 1 also where unknown."""
        return area_readability(self.weaker_margin_db)


def has_fixed_beam(hub: Hub) -> bool:
    """Whether where a cell lies changes the hub's gain towards it. A beam that turns follows the cell."""
    return hub.antenna.beam is not None and hub.antenna.beam.aim is not Aim.TURNS


def beam_loss_raster_db(hub: Hub, bearing_deg: Raster) -> Raster:
    """Loss of the hub's beam beside its axis towards bearings of any number of rows, dB, float32.

    What an omni loses in elevation is not in it: that hangs on the horizon of each cell, which no loss tells.
    """
    beside_db = np.empty_like(bearing_deg)
    for first in range(0, bearing_deg.shape[0], _ROWS_AT_ONCE):
        rows = slice(first, first + _ROWS_AT_ONCE)
        beside_db[rows] = pattern_loss_db(
            hub.antenna, frequency_mhz=hub.middle_mhz, bearing_deg=bearing_deg[rows]
        )
    return beside_db


def area_readability(margin_db: Raster) -> NDArray[np.int8]:
    """Readability 1 to 5 of margins over workable, dB; as `reach.links.grade.readability_of`, in less
    memory."""
    result = np.ones(margin_db.shape, dtype=np.int8)
    for grade in reversed(GRADES[:-1]):
        result[margin_db >= np.float32(grade.from_db - Grade.WORKABLE.from_db)] = grade.readability
    return result


def area_service(
    loss: AreaLoss, hub: Hub, station: Station, *, net_noise: NoiseEnvironment, threads: int | None = None
) -> AreaService:
    """Margins both ways and the chance that both work, for a station that might stand in any cell.

    The path is computed once, between input and output; the difference in free space between them is added.
    The spread is that of single links: the path by its kind, both sites, receiver noise, the evening's air;
    but it is not known where complete models part. What both directions share makes them stray together, as
    in `chance_both_ways` of links; the margins of both differ by the same everywhere, so that a table over
    kind, distance and margin holds it. loss : swept with its clearance.
    """
    from reach.coverage.area._service_kernel import serve

    ways = (("in", hub.input_mhz), ("out", hub.output_mhz))
    found, own_sigma_db = [], []
    kit = counted_once(station, loss.path.sees)
    for way, frequency_mhz in ways:
        own = station_end(
            kit, frequency_mhz=frequency_mhz, net_noise=net_noise, polarisation=hub.polarisation
        )
        tx, rx = (own, hub.receiving) if way == "in" else (hub.sending, own)
        senders, receivers = RadioEnds.of([tx]), RadioEnds.of([rx])
        free_db = 20.0 * math.log10(frequency_mhz / loss.path.frequency_mhz)
        level_dbm = received_levels_dbm(tx=senders, rx=receivers, path_loss_db=np.array([free_db]))
        margin_db = float((level_dbm - required_levels_dbm(tx=senders, rx=receivers, mode=hub.mode))[0])
        own_sigma_db.append(math.hypot(site_sigma_db(kit, loss.path.cover), own.extra_sigma_db))
        if way == "in":
            found.append(hub.hears(margin_db, other_sigma_db=own_sigma_db[-1]))
        else:
            found.append(
                hub.is_heard(
                    margin_db, other_sigma_db=own_sigma_db[-1], other_noise_sigma_db=rx.noise_sigma_db
                )
            )
    (in_db, _), (out_db, _) = found
    grid, loss_db = loss.grid, loss.loss_db
    if has_fixed_beam(hub):
        loss_db = loss_db + beam_loss_raster_db(hub, grid.bearing_deg())
    if loss.kind is None:
        raise ValueError("the sweep was run without the kinds of path")
    step_m = grid.radius_m / DISTANCE_STEPS
    table = _chance_table(hub, station, step_m=step_m, ways=found, own_db2=own_sigma_db[0] * own_sigma_db[1])
    margins = [np.empty(loss.loss_db.shape, dtype=np.float32) for _ in range(3)]
    over_tasks(
        serve,
        loss.loss_db.shape[0],
        loss_db,
        grid.cell_m,
        in_db,
        out_db,
        step_m,
        LOWEST_MARGIN_DB,
        MARGIN_STEP_DB,
        table,
        loss.kind,
        *margins,
        threads=threads,
    )
    return AreaService(loss, hub, station, *margins)


def _chance_table(
    hub: Hub, station: Station, *, step_m: float, ways: Sequence[tuple[float, float]], own_db2: float
) -> NDArray[np.float64]:
    """Chance that both directions work, (kinds, distances, margins): by kind of path, at multiples of step_m,
    and by the margin of the way in from LOWEST_MARGIN_DB to its opposite.

    ways : in and out, margin where the path loses nothing and spread without the path's and the air's, dB.
    own_db2 : what the station's own strays in both directions have in common, dB squared.
    """
    (in_db, in_sigma_db), (out_db, out_sigma_db) = ways
    distance_m = np.arange(DISTANCE_STEPS + 2) * step_m

    def air_db(frequency_mhz: float, margin_db: NDArray[np.float64]) -> NDArray[np.float64]:
        return time_sigma_db(
            distance_m=distance_m[:, np.newaxis],
            frequency_mhz=frequency_mhz,
            tx_effective_height_m=station.antenna.height_m,
            rx_effective_height_m=hub.antenna_height_m,
            margin_db=margin_db,
            line_of_sight=False,
        )

    in_margin_db = np.arange(LOWEST_MARGIN_DB, -LOWEST_MARGIN_DB + MARGIN_STEP_DB, MARGIN_STEP_DB)
    out_margin_db = in_margin_db + out_db - in_db
    in_air_db, out_air_db = air_db(hub.input_mhz, in_margin_db), air_db(hub.output_mhz, out_margin_db)
    path_db = hub.path_scale * kind_sigma_db([kind.value for kind in PathKind])[:, np.newaxis, np.newaxis]
    in_total_db = np.sqrt(in_sigma_db**2 + in_air_db**2 + path_db**2)
    out_total_db = np.sqrt(out_sigma_db**2 + out_air_db**2 + path_db**2)
    together_db2 = path_db**2 + in_air_db * out_air_db + own_db2 + hub.both_ways_db2
    return chance_of_both(
        in_margin_db / in_total_db, out_margin_db / out_total_db, together_db2 / (in_total_db * out_total_db)
    )
