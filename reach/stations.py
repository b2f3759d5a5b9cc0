"""Who is on the net and on what equipment: frozen records, no arithmetic beyond a feed line's loss.

Every quantity is in the unit its name says. Records are built by `reach.inputs` from the user's files, or
directly by a program; `assumed` lists in plain words each value the user left out and what was taken for it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from enum import Enum
from functools import cached_property


class Category(Enum):
    """How a member takes part in the net (the check-in categories of a voice net)."""

    BASE = "base"
    MOBILE = "mobile"
    PORTABLE = "portable"  # handheld or small portable station
    INTERNET = "internet"  # linked over the internet: no radio path at all


class Polarisation(Enum):
    """Polarisation of a signal; FM voice nets are vertical."""

    HORIZONTAL = "horizontal"
    VERTICAL = "vertical"


class NoiseEnvironment(Enum):
    """Man-made noise environments of Rec. ITU-R P.372."""

    CITY = "city"
    RESIDENTIAL = "residential"
    RURAL = "rural"
    QUIET_RURAL = "quiet_rural"


class Surrounding(Enum):
    """What stands around an antenna and takes signal, both ways; the value is how it is written and shown."""

    IN_VEHICLE = "in a vehicle"  # with the hand-held's own whip
    VEHICLE_SHADOW = "vehicle shadow"  # antenna at the edge of the body
    ON_BELT = "on the belt"
    AT_WINDOW = "indoors at a window"
    INDOORS = "indoors"
    INSULATED_BUILDING = "in an insulated building"  # coated glass, foil
    BASEMENT = "basement"
    WOODLAND = "woodland"


class Land(Enum):
    """What stands round a station, within some 500 m; the value is how it is written and shown."""

    OPEN = "open"  # nothing higher than the antenna: heath, large fields, shore, bare top
    HOUSES = "houses"  # village, suburb, farms, hedges: the usual place
    TREES = "trees"  # in a wood
    TOWN = "town"  # among buildings of three storeys and more


class Surface(Enum):
    """What the paths of a net run over where no land-cover raster is given."""

    TYPICAL = "typical"  # ground that carries what stands round its stations
    BARE = "bare"  # nothing but ground: the lower limit of the loss on all but flat land


@dataclass(frozen=True)
class Position:
    """A place on the WGS 84 ellipsoid.

    latitude_deg, longitude_deg : decimal degrees, north and east positive.
    uncertainty_m : half the diagonal of the locator cell it was given as; 0 when given as coordinates.
    written : the text the user wrote, for messages.
    """

    latitude_deg: float
    longitude_deg: float
    uncertainty_m: float = 0.0
    written: str = ""

    @property
    def is_known(self) -> bool:
        """False for a member linked over the internet of whom nobody said where."""
        return not math.isnan(self.latitude_deg)


NOWHERE = Position(math.nan, math.nan)  # of no use but for members without a radio path


class Aim(Enum):
    """Where a beam points."""

    FIXED = "fixed"  # on its bearing
    TURNS = "turns"  # to whoever it works
    ANYWHERE = "anywhere"  # nobody knows: its mean gain over all bearings counts


@dataclass(frozen=True)
class Beam:
    """A directional antenna's pointing.

    bearing_deg : clockwise from true north, for a fixed one; towards : the call sign it was given as.
    front_to_back_db : the most it loses beside its front; None takes that of its pattern.
    """

    aim: Aim
    bearing_deg: float = 0.0
    towards: str = ""
    front_to_back_db: float | None = None


@dataclass(frozen=True)
class Antenna:
    """gain_dbi : one figure, or for named kinds one a band (see `gain_dbi_at`); height_m : above ground.

    beam : None radiates alike on every bearing; polarisation : None is the channel's.
    """

    height_m: float
    gain_dbi: float
    kind: str = ""
    gain_by_band_dbi: tuple[tuple[float, float], ...] = ()  # (frequency_mhz, gain_dbi), ascending frequency
    beam: Beam | None = None
    polarisation: Polarisation | None = None

    def gain_dbi_at(self, frequency_mhz: float) -> float:
        """Gain in its best direction at a frequency: the nearest band's figure, else the single one."""
        if not self.gain_by_band_dbi:
            return self.gain_dbi
        nearest = min(self.gain_by_band_dbi, key=lambda pair: abs(math.log(pair[0] / frequency_mhz)))
        return nearest[1]


@dataclass(frozen=True)
class FeedLine:
    """Feed line and what is in it. Matched loss per 100 ft = k1 sqrt(f) + k2 f, f in MHz, plus a fixed loss.

    kind : name as the user knows it; length_m : 0 with a fixed loss only.
    k1_db, k2_db : constants of the line for 100 ft (30.48 m).
    fixed_loss_db : connectors, splitters, or the whole loss when the user gave one figure.
    """

    kind: str = ""
    length_m: float = 0.0
    k1_db: float = 0.0
    k2_db: float = 0.0
    fixed_loss_db: float = 0.0

    def loss_db(self, frequency_mhz: float) -> float:
        """Loss of the whole line at a frequency in MHz, dB, never negative."""
        per_100_ft_db = self.k1_db * math.sqrt(frequency_mhz) + self.k2_db * frequency_mhz
        return self.fixed_loss_db + per_100_ft_db * self.length_m / 30.48


@dataclass(frozen=True)
class BackupPower:
    """What keeps a station on the air without mains. hours is None when the user only said 'yes'."""

    battery_ah: float | None = None
    battery_v: float = 12.8
    hours: float | None = None

    @property
    def words(self) -> str:
        """'24 h', '40 Ah', 'battery' when nobody said how much."""
        hours = f"{self.hours:g} h" if self.hours is not None else ""
        charge = f"{self.battery_ah:g} Ah" if self.battery_ah is not None else ""
        return ", ".join(part for part in (hours, charge) if part) or "battery"


@dataclass(frozen=True)
class Station:
    """One member as the net sees them.

    sensitivity_dbm : receiver level for 12 dB SINAD at its antenna socket.
    extra_loss_db : loss at this station the user gave as a figure (body, vehicle, building, trees), both
        directions, dB; comes on top of `surroundings`, whose losses go by frequency.
    local_noise_db : how far the station's own noise lies above the curve of its environment, dB.
    noise : None means the net's environment.
    backup : None means mains only; see `runs_without_mains`.
    bands : names of the bands it has a radio for, as in `reach.inputs.bands`; empty means all.
    attendance : share of the nets it usually takes part in, 0 to 1; None when nobody said.
    brief : wants to be called early and leave (brief check-in).
    land : what stands round the station; None when nobody said (houses are taken, or the land-cover
    raster's).
    assumed : plain-word list of defaults used, e.g. 'antenna height 9 m (base default)'.
    warnings : what in its own data is worth a second look, one sentence each.
    """

    call_sign: str
    name: str
    position: Position
    category: Category
    antenna: Antenna
    transmit_power_dbm: float
    feed_line: FeedLine = field(default_factory=FeedLine)
    sensitivity_dbm: float = -121.0
    extra_loss_db: float = 0.0
    local_noise_db: float = 0.0
    noise: NoiseEnvironment | None = None
    backup: BackupPower | None = None
    willing_control: bool = False
    willing_relay: bool = False
    brief: bool = False
    assumed: tuple[str, ...] = ()
    surroundings: tuple[Surrounding, ...] = ()
    warnings: tuple[str, ...] = ()
    land: Land | None = None
    bands: tuple[str, ...] = ()
    attendance: float | None = None

    @property
    def has_radio_path(self) -> bool:
        """False for internet-linked members: they are on the list, never on the air."""
        return self.category is not Category.INTERNET


@dataclass(frozen=True)
class Repeater:
    """A repeater: receives on `input_mhz`, transmits on `output_mhz`, through one antenna and a duplexer.

    tone_hz : access tone (CTCSS); recorded and printed, it does not change range.
    duplexer_loss_db : per path, so it counts on receive and on transmit.
    deviation_khz : 5 for 20/25 kHz channels, 2.5 for 12.5 kHz; both of its frequencies.
    desensitising_db : how much weaker its receiver hears while its transmitter is on the air.
    unsaid : what its keeper would know and nobody wrote down, in plain words; usual values stand in.
    land : what stands round it; None when nobody said.
    warnings : what in its own data is worth a second look, one sentence each.
    """

    call_sign: str
    name: str
    position: Position
    output_mhz: float
    input_mhz: float
    antenna: Antenna
    transmit_power_dbm: float
    feed_line: FeedLine = field(default_factory=FeedLine)
    duplexer_loss_db: float = 1.5
    sensitivity_dbm: float = -121.0
    local_noise_db: float = 0.0
    noise: NoiseEnvironment | None = None
    tone_hz: float | None = None
    backup: BackupPower | None = None
    assumed: tuple[str, ...] = ()
    surroundings: tuple[Surrounding, ...] = ()
    deviation_khz: float = 5.0
    warnings: tuple[str, ...] = ()
    land: Land | None = None
    desensitising_db: float = 0.0
    unsaid: tuple[str, ...] = ()


def runs_without_mains(who: Station | Repeater) -> bool:
    """Whether it stays on the air when the mains fails: the one place that decides it."""
    return who.backup is not None


@dataclass(frozen=True)
class Channel:
    """A simplex channel of the net. deviation_khz 5 for 20/25 kHz channels, 2.5 for 12.5 kHz."""

    name: str
    frequency_mhz: float
    deviation_khz: float = 5.0
    polarisation: Polarisation = Polarisation.VERTICAL


@dataclass(frozen=True)
class Net:
    """A whole net folder, read and checked.

    channels : at least one; the first is tonight's simplex channel, the rest its fallbacks in order.
    model : name of a path-loss model (`reach.propagation.models`), or 'auto'.
    folder : where it was read from; terrain_folders are absolute.
    warnings : about the folder's files as a whole; those about one member or repeater stand in its record.
    away : call signs of the roster left out for tonight.
    shared_square_m : side of the squares all places were moved within to be shared; 0 for the real ones.
    settings beyond these live in their own records (schedule, script, planning rules).
    """

    name: str
    channels: tuple[Channel, ...]
    repeaters: tuple[Repeater, ...]
    stations: tuple[Station, ...]
    terrain_folders: tuple[str, ...] = ()
    land_cover: str | None = None
    clutter_heights_m: tuple[tuple[str, float], ...] = ()  # user's override of land-cover code -> height, m
    noise: NoiseEnvironment = NoiseEnvironment.RESIDENTIAL
    model: str = "auto"
    k_factor: float = 4.0 / 3.0
    region: int = 2  # IARU region, for band edges
    folder: str = ""
    surface: Surface = Surface.TYPICAL
    elevation_unit: str = ""  # 'm' or 'ft' when the user declared it in net.toml; empty: from the tiles
    assumed: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    away: tuple[str, ...] = ()
    shared_square_m: float = 0.0

    def station(self, call_sign: str) -> Station:
        """The member with that call sign (case-insensitive); KeyError when there is none."""
        return self._by_call_sign[call_sign.upper()]

    @property
    def names(self) -> dict[str, str]:
        """Call sign -> name of every member."""
        return {station.call_sign: station.name for station in self.stations}

    @cached_property
    def _by_call_sign(self) -> dict[str, Station]:
        """Plans ask by the ten thousand, in nets of hundreds; of two of a name, the first."""
        return {station.call_sign: station for station in reversed(self.stations)}

    def exchanged(self, station: Station) -> Net:
        """The net with a station in place of the one of its call sign."""
        call_sign = station.call_sign
        return replace(
            self, stations=tuple(station if s.call_sign == call_sign else s for s in self.stations)
        )

    def repeater(self, call_sign: str) -> Repeater:
        """The repeater with that call sign (case-insensitive); KeyError when there is none."""
        for repeater in self.repeaters:
            if repeater.call_sign == call_sign.upper():
                return repeater
        raise KeyError(call_sign)
