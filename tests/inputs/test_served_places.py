"""places.csv: every fault at once, each with its row and what to do."""

from __future__ import annotations

import pytest

from reach.errors import InputProblem
from reach.inputs.served_places import parse_places


def test_positions_as_figures_or_locator() -> None:
    found = parse_places("name,kind,latitude,longitude\n# a note\nHall,hall,41.3,-38.1\n")
    assert [(p.words, p.position.latitude_deg, p.position.longitude_deg) for p in found] == [
        ("Hall (hall)", 41.3, -38.1)
    ]
    (by_locator,) = parse_places("name;locator\nShelter;HN11bi72jt\n")
    assert by_locator.words == "Shelter" and 41.0 < by_locator.position.latitude_deg < 42.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "names no place; write a row under the heading name,kind,latitude,longitude"),
        ("name,kind\nA,b\n", "lacks the name or the position"),
        ("name,lat,lon\nA,1,2\n", "is no heading here; use name, kind, latitude"),
        ("name,latitude,longitude\nA,41,-38\nA,41,-38\n", 'row 3: "A" is there twice'),
        ("name,latitude,longitude\n,41,-38\nB,,\nC,95,-38\n", "row 2: has no name"),
    ],
)
def test_what_is_wrong_is_said_with_its_row(text: str, words: str) -> None:
    with pytest.raises(InputProblem) as refused:
        parse_places(text)
    assert words in str(refused.value)
    if "row 2" in words:
        assert [fault.row for fault in refused.value.faults] == [2, 3, 4]
