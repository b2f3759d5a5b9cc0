"""The repeaters of net.toml: one [[repeaters]] table each."""

from __future__ import annotations

import math
from typing import Annotated

from pydantic import PlainValidator, ValidationError

from reach.errors import Fault, InputProblem
from reach.inputs import quantities as q
from reach.inputs.call_signs import parse_call_sign, parse_name
from reach.inputs.columns import Column, faults_of
from reach.inputs.equipment import REPEATER_DEFAULTS, duplexer_loss_db
from reach.inputs.findings import Findings
from reach.inputs.places import POSITION_COLUMNS, position_from, position_warnings, refuse_coarse
from reach.inputs.settings import Settings
from reach.inputs.station_fields import EQUIPMENT_COLUMNS, EquipmentFields, complete
from reach.stations import Category, Position, Repeater

REPEATER_COLUMNS = (
    Column("call_sign", None, ("call", "callsign")),
    Column("name"),
    *POSITION_COLUMNS,
    Column("output", q.FREQUENCY, ("output_frequency",)),
    Column("input", q.FREQUENCY, ("input_frequency",)),
    Column("offset", q.OFFSET, ("shift",)),
    Column("tone", q.TONE, ("access_tone", "ctcss")),
    Column("duplexer_loss", q.LOSS),
    Column("deviation", q.DEVIATION),
    *EQUIPMENT_COLUMNS,
)


class _RepeaterFields(EquipmentFields):
    call_sign: Annotated[str, PlainValidator(lambda c: parse_call_sign(c.text))]
    output: Annotated[float, PlainValidator(lambda c: q.parse_frequency_mhz(c.text, c.unit))]
    name: Annotated[str, PlainValidator(lambda c: parse_name(c.text))] = ""
    input: Annotated[float | None, PlainValidator(lambda c: q.parse_frequency_mhz(c.text, c.unit))] = None
    offset: Annotated[float | None, PlainValidator(lambda c: q.OFFSET.parse(c.text, c.unit))] = None
    tone: Annotated[float | None, PlainValidator(lambda c: q.TONE.parse(c.text, c.unit))] = None
    duplexer_loss: Annotated[float | None, PlainValidator(lambda c: q.parse_loss_db(c.text, c.unit))] = None
    deviation: Annotated[float, PlainValidator(lambda c: q.parse_deviation_khz(c.text, c.unit))] = 5.0


_WHAT_IS_MISSING = {
    "call_sign": 'write call_sign = "QK3ABC/R", say',
    "output": "write output_mhz = 146.94, say (the frequency members listen to)",
}


def read_repeaters(settings: Settings, found: Findings) -> list[Repeater | None]:
    """One entry per [[repeaters]] table, None for one with faults."""
    repeaters: list[Repeater | None] = []
    seen: set[str] = set()
    for path, table in settings.tables_named("repeaters", found.faults):
        place = settings.place(path)
        before = len(found.faults)
        cells = found.cells(table, REPEATER_COLUMNS, place)
        fields: _RepeaterFields | None = None
        try:
            names = _RepeaterFields.model_fields
            fields = _RepeaterFields.model_validate(
                {name: cell for name, cell in cells.items() if name in names}
            )
        except ValidationError as error:
            found.faults += faults_of(error, cells, place, missing=_WHAT_IS_MISSING.__getitem__)
        position: Position | None = None
        try:
            position = position_from(cells)
        except InputProblem as problem:
            found.faults += [place.located(fault, heading="") for fault in problem.faults]
        repeater: Repeater | None = None
        if fields and position and len(found.faults) == before:
            try:
                repeater = _repeater(fields, position, where=f"{settings.file}, {path}")
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


def _repeater(fields: _RepeaterFields, position: Position, *, where: str) -> Repeater:
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
            Fault(f"the input would be {input_mhz:g} MHz", "check the offset", column="offset")
        )
    if math.isclose(input_mhz, fields.output, abs_tol=1e-6):
        raise InputProblem(
            Fault(
                "input and output are the same frequency",
                "a repeater needs two; check the offset",
                column="offset",
            )
        )
    equipment = complete(fields, own_defaults=EquipmentFields(), defaults=REPEATER_DEFAULTS, who="repeater")
    assumed = list(equipment.assumed)
    duplexer_db = fields.duplexer_loss
    if duplexer_db is None:
        duplexer_db = duplexer_loss_db(fields.output)
        assumed.append(f"duplexer loss {duplexer_db:g} dB per path (repeater default)")
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
        tone_hz=fields.tone,
        backup=equipment.backup,
        assumed=tuple(assumed),
        surroundings=equipment.extra_loss.surroundings,
        deviation_khz=fields.deviation,
        warnings=_warnings_about(fields.call_sign, position, where=where),
    )


def _warnings_about(call_sign: str, position: Position, *, where: str) -> tuple[str, ...]:
    where = f"{where}, {call_sign}"
    return tuple(position_warnings(position, category=Category.BASE, where=where))
