"""The repeaters of net.toml: one [[repeaters]] table each."""

from __future__ import annotations

import math
from dataclasses import dataclass

from reach.errors import Fault, InputProblem
from reach.inputs import quantities as q
from reach.inputs.call_signs import parse_call_sign, parse_name
from reach.inputs.columns import Cell, Column, read_record
from reach.inputs.equipment import DESENSITISING_DB, REPEATER_DEFAULTS, duplexer_loss_db
from reach.inputs.findings import Findings
from reach.inputs.places import POSITION_COLUMNS, position_from, position_warnings, refuse_coarse
from reach.inputs.settings import Settings
from reach.inputs.station_fields import EQUIPMENT_COLUMNS, EquipmentFields, complete
from reach.stations import Aim, Category, Position, Repeater

REPEATER_COLUMNS = (
    Column(
        "call_sign",
        None,
        ("call", "callsign"),
        lambda c: parse_call_sign(c.text),
        missing='write call_sign = "QK3ABC/R", say',
    ),
    Column("name", reads=lambda c: parse_name(c.text)),
    *POSITION_COLUMNS,
    Column(
        "output",
        q.FREQUENCY,
        ("output_frequency",),
        missing="write output_mhz = 146.94, say (the frequency members listen to)",
    ),
    Column("input", q.FREQUENCY, ("input_frequency",)),
    Column("offset", q.OFFSET, ("shift",)),
    Column("tone", q.TONE, ("access_tone", "ctcss"), lambda c: _tone(c)),
    Column("duplexer_loss", q.LOSS),
    Column("desensitising", q.LOSS, ("desensitizing", "desensitisation", "desensitization", "desense")),
    Column("deviation", q.DEVIATION, (), lambda c: q.parse_deviation_khz(c.text, c.unit)),
    *EQUIPMENT_COLUMNS,
)


_NO_TONE = frozenset({"none", "no", "open", "-"})


@dataclass(frozen=True)
class _Tone:
    """An access tone as written; hz : None for a repeater that opens without one."""

    hz: float | None = None


def _tone(cell: Cell) -> _Tone:
    return _Tone() if cell.text.lower() in _NO_TONE else _Tone(q.TONE.parse(cell.text, cell.unit))


@dataclass(frozen=True, kw_only=True)
class _RepeaterFields(EquipmentFields):
    call_sign: str
    output: float  # MHz
    name: str = ""
    input: float | None = None  # MHz
    offset: float | None = None  # MHz
    tone: _Tone | None = None
    duplexer_loss: float | None = None  # dB
    desensitising: float | None = None  # dB
    deviation: float = 5.0  # kHz


def read_repeaters(
    settings: Settings, found: Findings, *, undirected: Aim = Aim.TURNS
) -> list[Repeater | None]:
    """One entry per [[repeaters]] table, None for one with faults. undirected : see `complete`."""
    repeaters: list[Repeater | None] = []
    seen: set[str] = set()
    for path, table in settings.tables_named("repeaters", found.faults):
        place = settings.place(path)
        before = len(found.faults)
        cells = found.cells(table, REPEATER_COLUMNS, place)
        fields, problems = read_record(_RepeaterFields, REPEATER_COLUMNS, cells, place)
        found.faults += problems
        position: Position | None = None
        try:
            position = position_from(cells)
        except InputProblem as problem:
            found.faults += [place.located(fault, heading="") for fault in problem.faults]
        repeater: Repeater | None = None
        if fields and position and len(found.faults) == before:
            try:
                repeater = _repeater(fields, position, undirected, where=f"{settings.file}, {path}")
            except InputProblem as problem:
                for fault in problem.faults:
                    heading = cells[fault.column].heading if fault.column in cells else fault.column
                    found.faults.append(place.fault(fault.problem, fault.fix, heading=heading))
        if repeater:
            if repeater.call_sign in seen:
                found.faults.append(
                    place.fault(
                        f"there are two repeaters called {repeater.call_sign}",
                        "add a suffix such as /2 to one",
                        heading="call_sign",
                    )
                )
            seen.add(repeater.call_sign)
        repeaters.append(repeater)
    return repeaters


def _repeater(fields: _RepeaterFields, position: Position, undirected: Aim, *, where: str) -> Repeater:
    refuse_coarse(position)
    input_mhz = fields.input
    if input_mhz is not None:
        if fields.offset is not None and not math.isclose(
            input_mhz, fields.output + fields.offset, abs_tol=1e-6
        ):
            raise InputProblem(
                Fault("contradicts the input frequency", "keep one of the two", column="offset")
            )
    else:
        if fields.offset is None:
            raise InputProblem(
                Fault(
                    "neither input nor offset is given", "write offset_mhz = -0.6 or input_mhz = 146.34, say"
                )
            )
        input_mhz = round(fields.output + fields.offset, 9)
    if not q.FREQUENCY.lowest <= input_mhz <= q.FREQUENCY.highest:
        raise InputProblem(
            Fault(f"the input would be {input_mhz:.8g} MHz", "check the offset", column="offset")
        )
    if math.isclose(input_mhz, fields.output, abs_tol=1e-6):
        raise InputProblem(
            Fault(
                "input and output are the same frequency",
                "a repeater needs two; check the offset",
                column="offset",
            )
        )
    equipment = complete(
        fields,
        own_defaults=EquipmentFields(),
        defaults=REPEATER_DEFAULTS,
        who="repeater",
        undirected=undirected,
    )
    assumed = list(equipment.assumed)
    duplexer_db = fields.duplexer_loss
    if duplexer_db is None:
        duplexer_db = duplexer_loss_db(fields.output)
        assumed.append(f"duplexer loss {duplexer_db:g} dB per path (repeater default)")
    unsaid = []
    desensitising_db = fields.desensitising
    if fields.tone is None:
        unsaid.append("its access tone")
        assumed.append("no access tone (repeater default)")
    if fields.noise is None and fields.local_noise is None:
        unsaid.append("how noisy its site is")
        assumed.append("its site as noisy as the net's environment (repeater default)")
    if desensitising_db is None:
        desensitising_db = DESENSITISING_DB
        unsaid.append("how much its own transmitter desensitises it")
        assumed.append(f"desensitising {desensitising_db:g} dB (repeater default)")
    return Repeater(
        call_sign=fields.call_sign,
        name=fields.name,
        position=position,
        output_mhz=fields.output,
        input_mhz=input_mhz,
        antenna=equipment.antenna,
        transmit_power_dbm=equipment.transmit_power_dbm,
        feed_line=equipment.feed_line,
        duplexer_loss_db=duplexer_db + equipment.extra_loss.loss_db,
        sensitivity_dbm=equipment.sensitivity_dbm,
        local_noise_db=equipment.local_noise_db,
        noise=equipment.noise,
        tone_hz=fields.tone.hz if fields.tone else None,
        desensitising_db=desensitising_db,
        unsaid=tuple(unsaid),
        backup=equipment.backup,
        assumed=tuple(assumed),
        surroundings=equipment.extra_loss.surroundings,
        deviation_khz=fields.deviation,
        warnings=_warnings_about(fields.call_sign, position, where=where),
        land=equipment.land,
    )


def _warnings_about(call_sign: str, position: Position, *, where: str) -> tuple[str, ...]:
    where = f"{where}, {call_sign}"
    return tuple(position_warnings(position, category=Category.BASE, where=where))
