"""The house: imports point down the floors, and heavy libraries stay in the rooms that own them."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.house import BLOCK, DOCUMENT, FLOORS, PACKAGE, drawing

# library -> the only places that may import it
ROOMS = {
    "rasterio": (
        "terrain/",
        "coverage/sweep/grid.py",
        "coverage/area/raster",
        "drawings/maps/picture.py",
        "demo/",
    ),
    "pyproj": ("geodesy.py", "terrain/", "coverage/sweep/grid.py"),
    "highspy": ("plans/",),
    "folium": ("drawings/",),
    "branca": ("drawings/",),
    "matplotlib": ("drawings/",),
    "fontTools": ("drawings/papers/typeface.py",),
    "jinja2": ("drawings/",),
    "click": ("commands/",),
    "rich": ("commands/", "drawings/"),
    "icalendar": ("drawings/",),
    "distributed": ("machinery/",),
    "dask": ("machinery/",),
    "starlette": ("desk/",),
    "uvicorn": ("desk/",),
}


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def module_name(path: Path) -> str:
    parts = ["reach", *path.relative_to(PACKAGE).with_suffix("").parts]
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported_names(path: Path) -> list[tuple[str, int]]:
    """Every module imported anywhere in the file, functions included, with its line."""
    names: list[tuple[str, int]] = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names += [(alias.name, node.lineno) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: write the whole module name, no relative imports"
            base = node.module or ""
            names += [(f"{base}.{alias.name}", node.lineno) for alias in node.names]
    return names


def floor_of(dotted: str) -> int | None:
    parts = dotted.split(".")
    return FLOORS[parts[1]] if len(parts) > 1 and parts[1] in FLOORS else None


@pytest.mark.parametrize("path", modules(), ids=module_name)
def test_imports_never_point_upward(path: Path) -> None:
    own = floor_of(module_name(path))
    if own is None:
        assert path == PACKAGE / "__init__.py", f"{path}: give {module_name(path)} a floor in FLOORS"
        return
    for name, line in imported_names(path):
        if name.split(".")[0] == "reach" and (other := floor_of(name)) is not None:
            assert other <= own, f"{path}:{line}: floor {own} imports {name} from floor {other}"


@pytest.mark.parametrize("path", modules(), ids=module_name)
def test_libraries_stay_in_their_rooms(path: Path) -> None:
    place = path.relative_to(PACKAGE).as_posix()
    for name, line in imported_names(path):
        rooms = ROOMS.get(name.split(".")[0])
        assert rooms is None or place.startswith(rooms), f"{path}:{line}: {name} belongs in {rooms}"


def test_no_import_cycles() -> None:
    known = {module_name(p): p for p in modules()}
    graph = {
        name: {
            target
            for imported, _ in imported_names(path)
            for target in (imported, imported.rpartition(".")[0])
            if target in known and target != name and not name.startswith(target + ".")
        }
        for name, path in known.items()
    }
    done: set[str] = set()

    def visit(name: str, trail: tuple[str, ...]) -> None:
        assert name not in trail, "import cycle: " + " -> ".join([*trail[trail.index(name) :], name])
        if name not in done:
            for target in sorted(graph[name]):
                visit(target, (*trail, name))
            done.add(name)

    for name in sorted(graph):
        visit(name, ())


def test_only_commands_print_or_read_the_clock() -> None:
    for path in modules():
        if floor_of(module_name(path)) == FLOORS["commands"]:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                assert node.func.id != "print", f"{path}:{node.lineno}: only commands print"
            if isinstance(node, ast.Attribute) and node.attr in {"now", "today", "utcnow"}:
                raise AssertionError(f"{path}:{node.lineno}: only commands read the clock")


def test_every_room_has_a_floor_and_the_drawing_shows_the_house() -> None:
    found = {
        path.stem if path.is_file() else path.name for path in PACKAGE.iterdir() if path.name[0] not in "_."
    }
    assert found - {"py"} == set(FLOORS)
    shown = BLOCK.search(DOCUMENT.read_text(encoding="utf-8"))
    assert shown is not None
    assert shown.group(0) == drawing(), "run `python tests/house.py` to draw the house anew"
