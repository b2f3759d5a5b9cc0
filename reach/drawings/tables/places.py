"""Served places on one screen: whom each works in which case, and who should go there."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.table import Table

from reach.answers.outages import Case
from reach.answers.places import PlaceContact, PlaceInCase, PlacesAnswer
from reach.drawings.style.cautions import AGENCY, SHORT
from reach.drawings.tables.terminal import answer, notes_text, quiet_table
from reach.links.sayings import chance_in_words
from reach.lists import named

MOST_WORKED = 4  # call signs in a cell


def places_screen(found: PlacesAnswer) -> list[RenderableType]:
    """What `reach places` says first: a line a place, a column a case."""
    letters = "  ".join(f"{case.letter} {case.plan.outage.words}." for case in found.cases)
    lines = [
        "",
        letters,
        "A cell: whom a handheld there calls first to be in the net; with 'car' where only a mobile gets in; "
        "'no' where neither does. Who goes there and whom else it works: --case B.",
        SHORT,
    ]
    return [answer(found.headline), notes_text([""]), _overview(found), notes_text(lines)]


def case_places_screen(found: PlacesAnswer, case: Case) -> list[RenderableType]:
    """One case: every place with all it works, and who goes."""
    places = found.places[found.cases.index(case)]
    return [
        answer(f"Case {case.letter}. {case.plan.sentence}"),
        notes_text([""]),
        _table(places),
        notes_text([""]),
    ]


def places_basis(found: PlacesAnswer) -> RenderableType:
    """What the answer stands on."""
    stands = (
        "At each place a usual handheld (5 W, its own whip) and a usual car (50 W), outdoors. Who goes: the "
        "nearest who has no duty in the net and gets in from there; ask them first."
    )
    return notes_text([stands, found.basis, *found.warnings, *found.in_short, AGENCY, SHORT])


def _overview(found: PlacesAnswer) -> Table:
    rows = [
        (own.place.words, *(_cell(found.places[k][number]) for k in range(len(found.cases))))
        for number, own in enumerate(found.places[0])
    ]
    return quiet_table("", [("place", "left"), *((case.letter, "left") for case in found.cases)], rows)


def _cell(own: PlaceInCase) -> str:
    if own.handheld_in:
        return own.handheld_via
    return f"car: {own.mobile_via}" if own.mobile_in else "no"


def _table(places: Sequence[PlaceInCase]) -> Table:
    rows = [
        (
            own.place.words,
            _works(own.handheld),
            own.handheld_via or "no",
            _works(own.mobile),
            own.mobile_via or "no",
            f"{own.goes}, {own.goes_km:.1f} km" if own.goes_km is not None else "nobody",
        )
        for own in places
    ]
    columns = (
        ("place", "left"),
        ("a handheld there works", "left"),
        ("calls", "left"),
        ("a car there works", "left"),
        ("calls", "left"),
        ("who goes", "left"),
    )
    return quiet_table("Surest first", columns, rows)


def _works(contacts: Sequence[PlaceContact]) -> str:
    if not contacts:
        return "nobody"
    first = f"{contacts[0].call_sign} ({chance_in_words(contacts[0].chance)})"
    rest = [contact.call_sign for contact in contacts[1:]]
    return named([first, *rest], most=MOST_WORKED)
