"""The house as it stands: every room with the first line of its docstring, as DEVELOPERS.md shows it.

`python tests/house.py` writes the drawing into DEVELOPERS.md anew.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

TOP = Path(__file__).resolve().parents[1]
PACKAGE = TOP / "reach"
DOCUMENT = TOP / "DEVELOPERS.md"
BLOCK = re.compile(r"(?<=<!-- the house: written by tests/house.py -->\n```\n).*?(?=```\n)", re.DOTALL)

FLOORS = {
    "errors": 0, "units": 0, "lists": 0, "notes": 0, "visible": 0,
    "machinery": 0, "geodesy": 0, "stations": 0, "files": 0,
    "inputs": 1,
    "reports": 2,
    "evening": 2,
    "terrain": 2,
    "propagation": 3,
    "links": 4,
    "selfcheck": 4,
    "learning": 5,
    "coverage": 5,
    "plans": 6,
    "answers": 7,
    "drawings": 8,
    "desk": 9,
    "demo": 9,
    "api": 9,
    "commands": 10,
}  # fmt: skip


def drawing() -> str:
    """One line a room: floor, name, what lives there."""
    lines = []
    for name, floor in FLOORS.items():
        file = PACKAGE / f"{name}.py"
        lines.append(
            _line(
                floor, f"{name}{'.py' if file.exists() else '/'}", file if file.exists() else PACKAGE / name
            )
        )
        if not file.exists():
            inner = sorted(place.parent for place in (PACKAGE / name).glob("*/__init__.py"))
            lines += [_line(floor, f"  {place.name}/", place) for place in inner]
    return "".join(f"{line}\n" for line in lines)


def _line(floor: int, name: str, place: Path) -> str:
    return f"{floor:2} {name:17} {_first_line(place if place.is_file() else place / '__init__.py')}"


def _first_line(source: Path) -> str:
    told = ast.get_docstring(ast.parse(source.read_text(encoding="utf-8")))
    assert told, f"{source}: say in a docstring what lives here"
    return " ".join(told.split("\n\n")[0].split())


if __name__ == "__main__":
    text = DOCUMENT.read_text(encoding="utf-8")
    DOCUMENT.write_text(BLOCK.sub(lambda _: drawing(), text), encoding="utf-8")
