"""The link budget: from transmit power to margin over workable, one direction, every line on its own.

    received = power - feed line - duplexer + antenna - path - extra losses + antenna - duplexer - feed line
    required = 12 dB SINAD sensitivity + noise rise + narrow step + step to workable + fading allowance
    margin   = received - required

Both sums are written once (`_signal_terms`, `_requirement_terms`) and serve one link with its lines and whole
[tx, rx] matrices alike. Levels are at the receiver's antenna socket.

The fading allowance counts once when either end is moving: the difference between the faded and the static
carrier-to-noise ratio for the same speech quality after TIA TSB-88 (from memory), so that a mobile's grades
mean what they mean at home. A portable standing still gets none: moving half a metre leaves a standing-wave
hole (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reach.links.ends import RadioEnd, RadioEnds
from reach.links.grade import Grade, grade_of
from reach.links.pattern import CROSS_POLAR_LOSS_DB
from reach.links.receiver import FmMode, narrow_step_db
from reach.links.s_meter import s_reading
from reach.links.sayings import chance_in_words
from reach.propagation.variability import SigmaParts, chance_of_working
from reach.units import dbm_to_microvolts

FloatArray = NDArray[np.float64]
Decibels = float | FloatArray
AnyEnd = RadioEnd | RadioEnds


class LineKind(Enum):
    """What a budget line stands for; POWER and SENSITIVITY start their sums in dBm, all else is dB."""

    POWER = "power"
    TX_FEED_LINE = "transmit feed line"
    TX_DUPLEXER = "transmit duplexer"
    TX_ANTENNA = "transmit antenna"
    TX_PATTERN = "transmit antenna beside its best"
    TX_AROUND = "around the transmitter"
    POLARISATION = "polarisation"
    PATH = "path"
    TX_LAND = "land round the transmitter"
    RX_LAND = "land round the receiver"
    RX_AROUND = "around the receiver"
    RX_ANTENNA = "receive antenna"
    RX_PATTERN = "receive antenna beside its best"
    RX_DUPLEXER = "receive duplexer"
    RX_FEED_LINE = "receive feed line"
    SENSITIVITY = "sensitivity"
    NOISE_RISE = "noise rise"
    DESENSITISING = "own transmitter on the air"
    NARROW_STEP = "step for narrow deviation"
    WORKABLE_STEP = "step to workable"
    FADING = "fading allowance"


@dataclass(frozen=True)
class BudgetLine:
    """One line of a budget. value_db : signed so that lines add up; the first of each sum is in dBm."""

    label: str
    value_db: float
    kind: LineKind
    note: str = ""


@dataclass(frozen=True)
class LinkBudget:
    """One direction: how `rx` hears `tx`.

    signal_lines : add up to received_dbm; requirement_lines : add up to required_dbm.
    sigma_db : standard deviation of the margin; spread : its parts.
    eirp_dbm : what the transmitting antenna radiates in its best direction, isotropic reference;
        exposure_eirp_dbm : the same, counted for people close by.
    """

    tx: str
    rx: str
    frequency_mhz: float
    signal_lines: tuple[BudgetLine, ...]
    requirement_lines: tuple[BudgetLine, ...]
    sigma_db: float
    eirp_dbm: float
    exposure_eirp_dbm: float
    spread: SigmaParts | None = None

    @property
    def received_dbm(self) -> float:
        """Level at the receiver's antenna socket, dBm."""
        return sum(line.value_db for line in self.signal_lines)

    @property
    def received_uv(self) -> float:
        """The same across 50 ohm, uV."""
        return float(dbm_to_microvolts(self.received_dbm))

    @property
    def s_reading(self) -> str:
        """The same on an exact S-meter."""
        return s_reading(self.received_dbm, frequency_mhz=self.frequency_mhz)

    @property
    def required_dbm(self) -> float:
        """Level at the socket for workable speech, dBm."""
        return sum(line.value_db for line in self.requirement_lines)

    @property
    def margin_db(self) -> float:
        """Margin over workable, dB, signed."""
        return self.received_dbm - self.required_dbm

    @property
    def grade(self) -> Grade:
        """Grade of the median margin."""
        return grade_of(self.margin_db)

    @property
    def readability(self) -> int:
        """1 to 5."""
        return self.grade.readability

    @property
    def chance(self) -> float:
        """Chance 0 to 1 that the direction is workable."""
        return float(chance_of_working(self.margin_db, self.sigma_db))

    @property
    def chance_words(self) -> str:
        """The chance as people say it."""
        return chance_in_words(self.chance)


class _Term(NamedTuple):
    label: str
    kind: LineKind
    value_db: Decibels


def _signal_terms(
    tx: AnyEnd, rx: AnyEnd, path_loss_db: Decibels, ends_db: tuple[Decibels, Decibels] = (0.0, 0.0)
) -> tuple[_Term, ...]:
    """ends_db : what path_loss_db holds for the land round either end, to be shown apart."""
    over_land_db = path_loss_db - ends_db[0] - ends_db[1]
    crossed_db = -CROSS_POLAR_LOSS_DB * np.abs(tx.horizontal - rx.horizontal)
    return (
        _Term("transmit power", LineKind.POWER, tx.transmit_power_dbm),
        _Term("transmit feed line", LineKind.TX_FEED_LINE, -tx.feed_loss_db),
        _Term("transmit duplexer", LineKind.TX_DUPLEXER, -tx.duplexer_loss_db),
        _Term("transmit antenna", LineKind.TX_ANTENNA, tx.antenna_gain_dbi),
        _Term("transmit antenna, beside its best", LineKind.TX_PATTERN, -tx.pattern_loss_db),
        _Term("around the transmitter", LineKind.TX_AROUND, -tx.extra_loss_db),
        _Term("transmitter below trees or roofs", LineKind.TX_LAND, -ends_db[0]),
        _Term("path loss", LineKind.PATH, -over_land_db),
        _Term("crossed polarisation", LineKind.POLARISATION, crossed_db),
        _Term("receiver below trees or roofs", LineKind.RX_LAND, -ends_db[1]),
        _Term("around the receiver", LineKind.RX_AROUND, -rx.extra_loss_db),
        _Term("receive antenna", LineKind.RX_ANTENNA, rx.antenna_gain_dbi),
        _Term("receive antenna, beside its best", LineKind.RX_PATTERN, -rx.pattern_loss_db),
        _Term("receive duplexer", LineKind.RX_DUPLEXER, -rx.duplexer_loss_db),
        _Term("receive feed line", LineKind.RX_FEED_LINE, -rx.feed_loss_db),
    )


def _requirement_terms(tx: AnyEnd, rx: AnyEnd, mode: FmMode) -> tuple[_Term, ...]:
    fading_db = np.maximum(tx.moving, rx.moving) * mode.fading_allowance_db
    return (
        _Term("sensitivity for 12 dB SINAD", LineKind.SENSITIVITY, rx.sensitivity_dbm),
        _Term("noise rise", LineKind.NOISE_RISE, rx.noise_rise_db),
        _Term("own transmitter on the air", LineKind.DESENSITISING, rx.desensitising_db),
        _Term("step for narrow deviation", LineKind.NARROW_STEP, narrow_step_db(mode)),
        _Term("step to workable speech", LineKind.WORKABLE_STEP, Grade.WORKABLE.from_db),
        _Term("fading allowance, moving station", LineKind.FADING, fading_db),
    )


def _total(terms: tuple[_Term, ...]) -> FloatArray:
    total: FloatArray = np.asarray(terms[0].value_db, dtype=np.float64)
    for term in terms[1:]:
        total = total + term.value_db
    return total


def received_levels_dbm(*, tx: RadioEnds, rx: RadioEnds, path_loss_db: FloatArray) -> FloatArray:
    """Received level at the socket, dBm: ends and loss in any shapes that broadcast. NaN loss gives NaN."""
    return _total(_signal_terms(tx, rx, path_loss_db))


def required_levels_dbm(*, tx: RadioEnds, rx: RadioEnds, mode: FmMode) -> FloatArray:
    """Level needed at the socket for workable speech, dBm: ends in any shapes that broadcast."""
    return _total(_requirement_terms(tx, rx, mode))


def link_budget(
    *,
    tx: RadioEnd,
    rx: RadioEnd,
    path_loss_db: float,
    frequency_mhz: float,
    mode: FmMode,
    sigma_db: float,
    path_note: str = "",
    spread: SigmaParts | None = None,
    tx_land_db: float = 0.0,
    rx_land_db: float = 0.0,
) -> LinkBudget:
    """Every line of one direction. Lines of 0 dB that do not apply (no duplexer, none moving) are left out.

    path_note : where the path loss comes from, e.g. the model's name. spread : the parts of sigma_db.
    tx_land_db, rx_land_db : what path_loss_db holds for the land round either end, shown on lines of its own.
    """
    notes = {
        LineKind.PATH: path_note,
        LineKind.NOISE_RISE: rx.noise_note,
        LineKind.TX_PATTERN: tx.pattern_note,
        LineKind.RX_PATTERN: rx.pattern_note,
        LineKind.POLARISATION: "usual figure: 20 dB in the clear, 10 to 15 behind hills",
    }
    parts = {LineKind.TX_AROUND: tx.extra_parts, LineKind.RX_AROUND: rx.extra_parts}

    def lines(terms: tuple[_Term, ...]) -> tuple[BudgetLine, ...]:
        shown: list[BudgetLine] = []
        for term in terms:
            if made_of := parts.get(term.kind):
                shown += [
                    BudgetLine(f"{term.label}: {part.label}", -part.loss_db, term.kind, part.note)
                    for part in made_of
                ]
            elif float(term.value_db) != 0.0 or term.kind in _ALWAYS_SHOWN:
                shown.append(
                    BudgetLine(term.label, float(term.value_db), term.kind, notes.get(term.kind, ""))
                )
        return tuple(shown)

    return LinkBudget(
        tx=tx.name,
        rx=rx.name,
        frequency_mhz=frequency_mhz,
        signal_lines=lines(_signal_terms(tx, rx, path_loss_db, (tx_land_db, rx_land_db))),
        requirement_lines=lines(_requirement_terms(tx, rx, mode)),
        sigma_db=sigma_db,
        eirp_dbm=tx.eirp_dbm,
        exposure_eirp_dbm=tx.exposure_eirp_dbm,
        spread=spread,
    )


_ALWAYS_SHOWN = frozenset(
    {LineKind.POWER, LineKind.TX_FEED_LINE, LineKind.TX_ANTENNA, LineKind.PATH}
    | {LineKind.RX_ANTENNA, LineKind.RX_FEED_LINE}
    | {LineKind.SENSITIVITY, LineKind.NOISE_RISE, LineKind.WORKABLE_STEP}
)
