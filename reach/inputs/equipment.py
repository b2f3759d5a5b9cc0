"""Named kinds of antennas and feed lines, and what a category has when nobody says.

Every figure here is a typical middle value, common practice without a published source, unless its line says
otherwise; whatever the user writes in a cell or in net.toml takes precedence. Gains are in the best
direction, level; a hand-held's includes the body of whoever holds it.
"""

from __future__ import annotations

from dataclasses import dataclass

from reach.stations import (
    Aim,
    Antenna,
    BackupPower,
    Beam,
    Category,
    FeedLine,
    NoiseEnvironment,
    Position,
    Station,
    Surrounding,
)


@dataclass(frozen=True)
class AntennaKind:
    """gain_dbi : where no band applies; gain_by_band_dbi : (frequency_mhz, gain_dbi), ascending.

    is_beam : whether it has a direction; surroundings : what the kind itself says of its place.
    """

    name: str
    gain_dbi: float
    gain_by_band_dbi: tuple[tuple[float, float], ...] = ()
    is_beam: bool = False
    surroundings: tuple[Surrounding, ...] = ()

    def at(self, height_m: float) -> Antenna:
        """One of this kind, so many metres above ground; a beam turns to whoever it works."""
        beam = Beam(Aim.TURNS) if self.is_beam else None
        return Antenna(height_m, self.gain_dbi, self.name, self.gain_by_band_dbi, beam)


def _by_band(name: str, *gains: tuple[float, float], worn: tuple[Surrounding, ...] = ()) -> AntennaKind:
    on_two_metres = min(gains, key=lambda pair: abs(pair[0] - 146.0))[1]
    return AntennaKind(name, on_two_metres, gains, surroundings=worn)


_HANDHELD_WHIP = ((29.0, -16.0), (52.0, -13.0), (146.0, -5.0), (223.0, -5.0), (446.0, -4.0))


ANTENNAS: dict[str, AntennaKind] = {
    kind.name: kind
    for kind in (
        AntennaKind("isotropic", 0.0),  # by definition
        AntennaKind("dipole", 2.15),  # half wave in free space: ITU-R V.573
        _by_band("handheld whip", *_HANDHELD_WHIP),
        # the same whip with the body against it: that loss is the surrounding's, said once
        _by_band("handheld whip on belt", *_HANDHELD_WHIP, worn=(Surrounding.ON_BELT,)),
        _by_band(
            "handheld long whip", (29.0, -10.0), (52.0, -7.0), (146.0, -1.0), (223.0, -1.0), (446.0, -1.0)
        ),
        AntennaKind("mobile quarter wave", 1.0),
        AntennaKind("mobile five eighths", 3.0),
        AntennaKind("mobile magnet mount", -1.0),  # at the roof's edge or on the boot
        # a mobile antenna cut for the band in use; on 10 m and 6 m the roof is too small a ground
        _by_band("mobile whip", (29.0, -2.0), (52.0, 0.0), (146.0, 2.0), (223.0, 2.5), (446.0, 4.0)),
        _by_band("mobile dual band", (146.0, 2.0), (446.0, 4.0)),
        AntennaKind("ground plane", 1.8),
        AntennaKind("j-pole", 2.0),
        AntennaKind("roll-up j-pole", 1.5),
        _by_band("base vertical", (29.0, 1.5), (52.0, 2.0), (146.0, 5.0), (223.0, 5.5), (446.0, 6.5)),
        _by_band("base collinear", (52.0, 2.5), (146.0, 6.0), (223.0, 7.0), (446.0, 8.0)),
        AntennaKind("four-dipole array", 8.0),
        AntennaKind("3-element yagi", 7.5, is_beam=True),  # towards where it points
        AntennaKind("5-element yagi", 10.0, is_beam=True),
        AntennaKind("10-element yagi", 13.0, is_beam=True),
    )
}


@dataclass(frozen=True)
class FeedLineKind:
    """Matched loss per 100 ft = k1 sqrt(f) + k2 f, dB, f in MHz.

    Fitted to catalogue points at 100 and 1000 MHz (handbook tables, from memory); makes differ by 20 %.
    """

    name: str
    k1_db: float
    k2_db: float

    def of(self, length_m: float) -> FeedLine:
        """A line of this kind, with its connectors where it has any length."""
        connectors_db = CONNECTORS_DB if length_m > 0.0 else 0.0
        return FeedLine(self.name, length_m, self.k1_db, self.k2_db, connectors_db)


FEED_LINES: dict[str, FeedLineKind] = {
    kind.name: kind
    for kind in (
        FeedLineKind("RG-58C", 0.4021, 0.00879),
        FeedLineKind("RG-58", 0.3437, 0.00363),
        FeedLineKind("RG-8X", 0.3042, 0.00158),
        FeedLineKind("RG-213", 0.1901, 0.00199),
        FeedLineKind("RG-8", 0.1901, 0.00199),
        FeedLineKind("LMR-400", 0.12229, 0.00026),
        FeedLineKind("half-inch hardline", 0.0642, 0.00019),
    )
}
CONNECTORS_DB = 0.2  # two connector pairs, added to every named line


@dataclass(frozen=True)
class EquipmentDefaults:
    """What a station of a category is taken to have.

    feed_line : a kind of FEED_LINES, empty for none. backup : what runs it without mains, if anything.
    """

    antenna_height_m: float
    transmit_power_dbm: float
    antenna: str
    feed_line: str
    feed_length_m: float
    backup: BackupPower | None = None
    sensitivity_dbm: float = -121.0  # 0.2 uV for 12 dB SINAD

    def usual_antenna(self) -> Antenna:
        """The usual antenna at its usual height."""
        return ANTENNAS[self.antenna].at(self.antenna_height_m)

    def usual_line(self) -> FeedLine:
        """The usual feed line."""
        kind = FEED_LINES.get(self.feed_line)
        return FeedLine(kind="none") if kind is None else kind.of(self.feed_length_m)


_FIVE_WATTS_DBM = 36.9897
_FIFTY_WATTS_DBM = 46.9897

DEFAULTS: dict[Category, EquipmentDefaults] = {
    Category.BASE: EquipmentDefaults(9.0, _FIFTY_WATTS_DBM, "base vertical", "RG-213", 15.0),
    Category.MOBILE: EquipmentDefaults(2.0, _FIFTY_WATTS_DBM, "mobile whip", "RG-58", 5.0, BackupPower()),
    Category.PORTABLE: EquipmentDefaults(1.5, _FIVE_WATTS_DBM, "handheld whip", "", 0.0, BackupPower()),
}
REPEATER_DEFAULTS = EquipmentDefaults(20.0, _FIFTY_WATTS_DBM, "four-dipole array", "half-inch hardline", 30.0)
# its transmitter a few hundred kHz or some MHz beside its receiver: 0 to 3 dB, common practice, no source
DESENSITISING_DB = 1.0
# (lowest frequency, dB per path): 600 kHz spacing on 2 m costs more than 5 MHz on 70 cm
_DUPLEXERS = ((300.0, 1.0), (0.0, 1.5))


def usual_station(category: Category, *, name: str, noise: NoiseEnvironment | None = None) -> Station:
    """A station of a category on its usual equipment, standing nowhere yet.

    name : its call sign and name for messages; noise : None for the net's environment.
    """
    usual = DEFAULTS[category]
    return Station(
        call_sign=name,
        name=name,
        position=Position(0.0, 0.0),
        category=category,
        antenna=usual.usual_antenna(),
        transmit_power_dbm=usual.transmit_power_dbm,
        feed_line=usual.usual_line(),
        sensitivity_dbm=usual.sensitivity_dbm,
        noise=noise,
        backup=usual.backup,
    )


def duplexer_loss_db(frequency_mhz: float) -> float:
    """Usual loss of a duplexer per path, dB."""
    return next(loss for lowest, loss in _DUPLEXERS if frequency_mhz >= lowest)
