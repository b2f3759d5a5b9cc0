"""Repeaters asked about one by one or all at once."""

from __future__ import annotations

from contextlib import contextmanager

import pytest

from reach.answers.open_net import OpenNet
from reach.answers.repeater import repeater
from reach.errors import InputProblem


def test_all_repeaters_are_each_alone_together(opened: OpenNet) -> None:
    both = repeater(opened)
    alone = [repeater(opened, [call]) for call in ("qk0ra", "QK0RB")]
    assert both.headlines == tuple(one.headline for one in alone)
    assert both.headline == " ".join(both.headlines)
    assert both.rows.rows == tuple(row for one in alone for row in one.rows.rows)
    assert both.figures == tuple(figures for one in alone for figures in one.figures)
    first = both.figures[0]
    assert first.repeater == "QK0RA" and first.no_radio_path == ("QK1N",)
    assert [record["station"] for record in first.members] == ["QK1A", "QK1B", "QK1H", "QK1N"]


def test_only_the_repeaters_asked_about_are_assumed_for(opened: OpenNet) -> None:
    told = " ".join(repeater(opened, ["QK0RB"]).assumed)
    assert "QK0RB" in told and "QK0RA" not in told


def test_each_stretch_of_work_is_named(opened: OpenNet) -> None:
    seen: list[str] = []

    @contextmanager
    def watch(what: str):  # type: ignore[no-untyped-def]
        seen.append(what)
        yield lambda done, total: None

    repeater(opened, watch=watch)
    assert seen == ["paths to QK0RA", "paths to QK0RB"]


def test_an_unknown_one_is_named(opened: OpenNet) -> None:
    with pytest.raises(InputProblem, match="did you mean QK0RA"):
        repeater(opened, ["QK0RAA"])
