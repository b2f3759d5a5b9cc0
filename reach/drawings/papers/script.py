"""What net control says: a wording with words to fill in, which a net may replace by its own `script.txt`.

The file is read with jinja2's parser, but only filling in and choosing is taken: nothing that repeats, calls
or computes. So a script takes time and memory in proportion to its length, whoever wrote it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from importlib.resources import files

from jinja2 import Environment, StrictUndefined, TemplateError, nodes

from reach.drawings.papers.spoken import spoken
from reach.errors import Fault, InputProblem
from reach.inputs.net_folder import SCRIPT_FILE

PARTS = ("opening", "priority", "check_in", "relay", "closing")

_LONGEST_SCRIPT = 15_000  # characters; the one built in has 1,900
_LONGEST_SAID = 20_000  # characters of one part once filled in, some twenty minutes of speech
_FILTERS = {"capitalize", "lower", "title", "trim", "upper"}
_TAKEN = (
    nodes.Output,
    nodes.TemplateData,
    nodes.Name,
    nodes.If,
    nodes.Not,
    nodes.And,
    nodes.Or,
    nodes.Compare,
    nodes.Operand,
    nodes.Const,
)
_WHAT = {
    nodes.For: "a loop",
    nodes.Call: "a call",
    nodes.Macro: "a macro",
    nodes.Assign: "set",
    nodes.Getattr: "a dot",
    nodes.BinExpr: "arithmetic",
}


@dataclass(frozen=True, kw_only=True)
class NetWords:
    """What every part of a script may fill in, in words; '' for what there is none of."""

    net_name: str
    date: str
    time: str
    control: str
    control_name: str
    channel: str
    frequency: str
    fallback: str
    relays: str
    stand_in: str

    @property
    def filled(self) -> dict[str, str]:
        """By the name it has in a script."""
        return {**asdict(self), "control_spoken": spoken(self.control)}


@dataclass(frozen=True, kw_only=True)
class RelayWords:
    """What [relay] may fill in besides. members : whom it calls; second : who does when it is missing."""

    relay: str
    relay_name: str
    members: str
    second: str

    @property
    def filled(self) -> dict[str, str]:
        """By the name it has in a script."""
        return {**asdict(self), "relay_spoken": spoken(self.relay)}


def default_script() -> str:
    """The wording a net starts from, to be edited."""
    return (files("reach.drawings") / "templates" / SCRIPT_FILE).read_text(encoding="utf-8")


def checked_script(text: str | None) -> Script:
    """A net's own wording, or the built-in one for None, every part of it tried.

    Raises : InputProblem naming the part and its row.
    """
    script = Script(default_script() if text is None else text)
    net = NetWords(**dict.fromkeys((field.name for field in fields(NetWords)), "x"))
    relay = RelayWords(**dict.fromkeys((field.name for field in fields(RelayWords)), "x"))
    for part in PARTS:
        script.say(part, {**net.filled, **(relay.filled if part == "relay" else {})})
    return script


class Script:
    """A wording in parts headed by [name], each filled in on its own.

    Raises : InputProblem for a part that is missing, twice there or unknown, or a text too long to be said.
    """

    def __init__(self, text: str) -> None:
        if len(text) > _LONGEST_SCRIPT:
            problem = f"is longer than anyone can say: {len(text):,} characters"
            raise InputProblem(Fault(problem, f"keep it below {_LONGEST_SCRIPT:,}", SCRIPT_FILE))
        self._environment = Environment(undefined=StrictUndefined, autoescape=False)  # plain text, no page
        self._parts: dict[str, tuple[int, str]] = {}
        faults = []
        name, first, lines = "", 1, list[str]()
        for number, line in enumerate([*text.splitlines(), "[]"], start=1):
            heading = re.fullmatch(r"\[(\w*)\]\s*", line)
            if not heading:
                lines.append("" if line.startswith("#") else line)
                continue
            if name:
                self._parts[name] = (first, "\n".join(lines))
            elif any(entry.strip() for entry in lines):
                faults.append(Fault("text before the first heading", "start with [opening]", SCRIPT_FILE, 1))
            name, first, lines = heading[1], number + 1, []
            if name and name not in PARTS:
                fix = f"the parts are {', '.join(PARTS)}"
                faults.append(Fault(f"[{name}] is not a part of the sheet", fix, SCRIPT_FILE, number))
            if name in self._parts:
                faults.append(
                    Fault(f"[{name}] stands here a second time", "keep one of them", SCRIPT_FILE, number)
                )
        missing = [part for part in PARTS if part not in self._parts]
        if missing and not faults:
            fix = "add the heading; it may be left empty below"
            faults.append(Fault(f"has no part [{'], ['.join(missing)}]", fix, SCRIPT_FILE))
        if faults:
            raise InputProblem(faults)

    def say(self, part: str, known: Mapping[str, str]) -> str:
        """The part as said, on one line. Raises : InputProblem naming the part and its row."""
        first, text = self._parts[part]

        def refused(problem: object, line: int | None) -> InputProblem:
            fix = f"words that can be filled in: {', '.join(known)}"
            return InputProblem(Fault(f"[{part}]: {problem}", fix, SCRIPT_FILE, first - 1 + (line or 1)))

        try:
            tree = self._environment.parse(text)
            stranger = _first_not_taken(tree)
            if stranger is not None:
                what, line = stranger
                raise refused(f"{what} is not understood; a script fills in words and chooses with if", line)
            said = ""
            for piece in self._environment.from_string(tree).generate(known):
                said += piece
                if len(said) > _LONGEST_SAID:
                    raise refused(f"would take more than {_LONGEST_SAID:,} characters to say", None)
        except RecursionError:
            raise refused("is nested too deeply to be read", None) from None
        except (TemplateError, ArithmeticError, TypeError, ValueError, LookupError) as error:
            if isinstance(error, InputProblem):
                raise
            raise refused(error, getattr(error, "lineno", None)) from error
        return " ".join(said.split())


def _first_not_taken(tree: nodes.Template) -> tuple[str, int] | None:
    """What a script may not do, in words, and its line; None where there is nothing of the kind."""
    waiting: list[nodes.Node] = list(reversed(tree.body))
    while waiting:
        node = waiting.pop()
        if isinstance(node, nodes.Filter):
            if node.name not in _FILTERS or node.args or node.kwargs or node.node is None:
                return f"the filter {node.name}", node.lineno
        elif not isinstance(node, _TAKEN):
            name = type(node).__name__.lower()
            return next((words for kind, words in _WHAT.items() if isinstance(node, kind)), name), node.lineno
        waiting.extend(reversed(list(node.iter_child_nodes())))
    return None
