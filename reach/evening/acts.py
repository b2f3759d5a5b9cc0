"""What can be noted of an evening: one frozen record a kind of act, and how each is read from a page's JSON.

Every change is an act and every act is an event of the journal; nothing is ever changed or deleted. A word on
each kind stands in its docstring; sizes are bounded where they are read.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping
from dataclasses import MISSING, asdict, dataclass, fields
from enum import Enum
from typing import Annotated, Any, get_type_hints

from reach.evening.check_ins import CheckIn
from reach.inputs.call_signs import parse_call_sign
from reach.inputs.quantities import quoted, refuse

LONGEST_NAME, LONGEST_REMARK = 60, 500
NOT_HEARD = 0  # in place of a readability


class Want(Enum):
    """What a station on the list still waits for; the value is how it is kept."""

    CALL_BACK = "call back"
    SECOND_TURN = "second turn"


def _text(most: int) -> Callable[[str, object], str]:
    def read(name: str, value: object) -> str:
        if not isinstance(value, str):
            raise refuse(f"{name} is not a text")
        text = " ".join(value.split())
        if len(text) > most:
            raise refuse(f"{name} has {len(text)} characters", f"shorten it to {most}")
        return text

    return read


def _call(name: str, value: object) -> str:
    return parse_call_sign(_text(LONGEST_NAME)(name, value))


def _call_or_none(name: str, value: object) -> str:
    return _call(name, value) if value else ""


def _flag(name: str, value: object) -> bool:
    if not isinstance(value, bool):
        raise refuse(f"{name} is neither yes nor no")
    return value


def _number(lowest: int, highest: int) -> Callable[[str, object], int]:
    def read(name: str, value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not lowest <= value <= highest:
            raise refuse(f"{name} is not a whole number from {lowest} to {highest}")
        return value

    return read


def _readability(name: str, value: object) -> int | None:
    return None if value is None else _number(1, 5)(name, value)


def _kind(name: str, value: object) -> CheckIn:
    for kind in CheckIn:
        if value == kind.key:
            return kind
    raise refuse(f"{quoted(str(value)[:40])} is no kind of check-in")


def _want(name: str, value: object) -> Want:
    for want in Want:
        if value == want.value:
            return want
    raise refuse(f"{quoted(str(value)[:40])} is nothing a station waits for")


def _moment(name: str, value: object) -> datetime.datetime | None:
    if value is None:
        return None
    try:
        at = datetime.datetime.fromisoformat(_text(LONGEST_NAME)(name, value))
    except ValueError:
        raise refuse(f"{name} is no time", "write it as 19:42") from None
    if at.tzinfo is None:
        raise refuse(f"{name} has no time zone")
    return at.astimezone(datetime.UTC)


# what a field holds, with how it is read
CallSign = Annotated[str, _call]
CallSignOrNone = Annotated[str, _call_or_none]
Name = Annotated[str, _text(LONGEST_NAME)]
Remark = Annotated[str, _text(LONGEST_REMARK)]
Flag = Annotated[bool, _flag]
Readability = Annotated[int | None, _readability]
Kind = Annotated[CheckIn, _kind]
Wanted = Annotated[Want, _want]
Moment = Annotated[datetime.datetime | None, _moment]
EventNumber = Annotated[int, _number(1, 2**53)]


@dataclass(frozen=True, kw_only=True)
class Opened:
    """The net begins, or goes on elsewhere. on : name of a channel or call sign of a repeater."""

    on: Name
    control: CallSign


@dataclass(frozen=True, kw_only=True)
class CheckedIn:
    """A station is on the list.

    heard : readability at net control, 1 to 5, None where nobody said; given : how it hears net control.
    through : who relayed it, '' when net control heard it itself; relay_heard : readability at that relay.
    """

    call: CallSign
    kind: Kind
    heard: Readability = None
    given: Readability = None
    through: CallSignOrNone = ""
    relay_heard: Readability = None
    remark: Remark = ""
    traffic: Flag = False
    emergency: Flag = False


@dataclass(frozen=True, kw_only=True)
class Amended(CheckedIn):
    """An entry as it should have been. of : the event that put it on the list; at : its time, None as it
    was."""

    of: EventNumber
    at: Moment = None


@dataclass(frozen=True, kw_only=True)
class Fragment:
    """Part of a call sign, half heard."""

    text: Name


@dataclass(frozen=True, kw_only=True)
class Resolved:
    """Who a fragment was; the check-in is an act of its own. call : '' where it came to nothing."""

    of: EventNumber
    call: CallSignOrNone = ""


@dataclass(frozen=True, kw_only=True)
class Named:
    """The name of somebody the roster does not know."""

    call: CallSign
    name: Name


@dataclass(frozen=True, kw_only=True)
class Asked:
    """A station on the air was asked to call for one that is missing."""

    call: CallSign
    relay: CallSign


@dataclass(frozen=True, kw_only=True)
class Missed:
    """by called or listened for a station and did not hear it."""

    call: CallSign
    by: CallSign


@dataclass(frozen=True, kw_only=True)
class Waits:
    """A station on the list wants to be called back, or to have a second turn."""

    call: CallSign
    want: Wanted


@dataclass(frozen=True, kw_only=True)
class Served:
    """It was."""

    call: CallSign
    want: Wanted


@dataclass(frozen=True, kw_only=True)
class Left:
    """A station on the list has signed off."""

    call: CallSign


@dataclass(frozen=True, kw_only=True)
class HandedOver:
    """Net control is somebody else from here on."""

    to: CallSign


@dataclass(frozen=True, kw_only=True)
class ListComplete:
    """Whether a station's list names all who called, heard or not: only then does its silence count."""

    call: CallSign
    complete: Flag


@dataclass(frozen=True, kw_only=True)
class AtStep:
    """The words to say are at this step, counted from 0."""

    step: Annotated[int, _number(0, 999)]


@dataclass(frozen=True, kw_only=True)
class Noted:
    """A note of net control on a station; it stays in this folder."""

    call: CallSign
    text: Remark


@dataclass(frozen=True, kw_only=True)
class ClockChanged:
    """The machine's clock jumped by so many seconds; order is that of the events, never of their times."""

    seconds: Annotated[int, _number(-(2**40), 2**40)]


@dataclass(frozen=True, kw_only=True)
class Screen:
    """How the page is shown: for a dark room, in large type."""

    dark: Flag = False
    large: Flag = False


@dataclass(frozen=True, kw_only=True)
class Closed:
    """The net is closed."""


@dataclass(frozen=True, kw_only=True)
class Undone:
    """An earlier act is taken back; one of these may be taken back itself."""

    of: EventNumber


Act = (
    Opened | CheckedIn | Amended | Fragment | Resolved | Named | Asked | Missed | Waits | Served | Left
    | HandedOver | ListComplete | AtStep | Noted | ClockChanged | Screen | Closed | Undone
)  # fmt: skip

ACTS: dict[str, type[Act]] = {
    "opened": Opened,
    "checked in": CheckedIn,
    "amended": Amended,
    "fragment": Fragment,
    "resolved": Resolved,
    "named": Named,
    "asked": Asked,
    "missed": Missed,
    "waits": Waits,
    "served": Served,
    "left": Left,
    "handed over": HandedOver,
    "list complete": ListComplete,
    "at step": AtStep,
    "noted": Noted,
    "clock changed": ClockChanged,
    "screen": Screen,
    "closed": Closed,
    "undone": Undone,
}


def _readers(kind: type[Act]) -> dict[str, Callable[[str, object], Any]]:
    hints = get_type_hints(kind, include_extras=True)
    return {name: hint.__metadata__[0] for name, hint in hints.items()}


_READERS = {name: _readers(kind) for name, kind in ACTS.items()}
_NAMES = {act: name for name, act in ACTS.items()}


def read_act(name: object, body: object) -> Act:
    """An act from what a page sent.

    Raises : InputProblem for an unknown one, a field that is missing, too many or too long.
    """
    kind = ACTS.get(name) if isinstance(name, str) else None
    if kind is None or not isinstance(name, str):
        raise refuse(f"{quoted(str(name)[:40])} is nothing that can be noted")
    if not isinstance(body, Mapping):
        raise refuse(f"{name} has no fields")
    known = {one.name: one for one in fields(kind)}
    for given in body:
        if given not in known:
            raise refuse(f"{name} has no field {quoted(str(given)[:40])}")
    for needed, one in known.items():
        if needed not in body and one.default is MISSING:
            raise refuse(f"{name} needs {needed}")
    reads = _READERS[name]
    act = kind(**{given: reads[given](given, value) for given, value in body.items()})
    if isinstance(act, CheckedIn) and act.through == act.call:
        raise refuse(f"{act.call} cannot be its own relay")
    return act


def act_name(act: Act) -> str:
    """How an act is kept."""
    return _NAMES[type(act)]


def act_body(act: Act) -> dict[str, object]:
    """Its fields as JSON has them; `read_act` reads them back."""
    return {name: _plain(value) for name, value in asdict(act).items()}


def _plain(value: object) -> object:
    if isinstance(value, CheckIn):
        return value.key
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, datetime.datetime):
        return value.isoformat()
    return value


def about(act: Act) -> str:
    """The station an act is about, '' for none: two windows disagree only about the same one."""
    call = getattr(act, "call", "")
    return call if isinstance(call, str) else ""
