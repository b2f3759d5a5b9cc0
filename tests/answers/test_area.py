"""Areas: the work settled before anything is computed, then computed and counted."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from reach.answers.area import area
from reach.answers.area_site import KIND_WORDS, share_words
from reach.answers.area_work import AreaWork, area_work
from reach.answers.open_net import OpenNet
from reach.commands import area as command
from reach.coverage.area import memory
from reach.coverage.area.service import StationKind
from reach.errors import InputProblem, OutOfRange, ReachError
from reach.machinery.executor import Here
from reach.stations import NoiseEnvironment


def settled(opened: OpenNet, *call_signs: str, **wish: Any) -> AreaWork:
    return area_work(
        opened.net,
        call_signs,
        **{"kind": StationKind.HANDHELD, "radius_m": 6000.0, "cell_m": 150.0, **wish},
    )


def test_the_work_is_settled_before_it_starts(opened: OpenNet) -> None:
    one = settled(opened, "qk0ra", noise=NoiseEnvironment.RURAL)
    assert isinstance(one.executor, Here) and one.station.noise is NoiseEnvironment.RURAL
    assert one.memory_sentence.endswith("of memory for 6 km on 150 m cells.")
    two = settled(opened, "QK0RB", "QK1A", "qk0rb ", channel="six metres")
    assert isinstance(two.executor, Here) and two.memory_bytes > one.memory_bytes
    assert [party.call_sign for party in two.parties] == ["QK0RB", "QK1A"]  # each once, as asked for
    assert two.jobs[1].hub.input_mhz == 52.525 and two.jobs[0].hub.output_mhz == 444.0


@pytest.mark.parametrize(
    ("call", "wish", "words"),
    [
        ("QK1N", {}, "linked over the internet"),
        ("QK9Z", {}, "is no member or repeater"),
        ("QK1A", {"channel": "ten"}, "is no channel"),
    ],
)
def test_what_has_no_area_is_said(opened: OpenNet, call: str, wish: dict[str, Any], words: str) -> None:
    with pytest.raises(InputProblem, match=words):
        settled(opened, call, **wish)


def test_what_would_not_fit_is_refused_before_it_starts(
    opened: OpenNet, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(OutOfRange, match="up to 500 km"):
        settled(opened, "QK0RA", radius_m=9e6)
    monkeypatch.setattr(memory, "available_memory_bytes", lambda: 50_000_000)
    with pytest.raises(ReachError, match="is free; free some first"):
        settled(opened, "QK0RA")


def test_one_site_is_computed_counted_and_kept(opened: OpenNet, tmp_path: Path) -> None:
    found = area(opened, settled(opened, "QK0RA"), folder=tmp_path)
    (site,) = found.sites
    (kept,) = tmp_path.iterdir()
    assert found.headline == site.sentence(StationKind.HANDHELD) == found.headlines[0]
    weaker = np.minimum(
        site.raster.layer("talk_in_margin").values, site.raster.layer("talk_out_margin").values
    )
    ashore = site.raster.layer("land").values == 1.0
    served_km2 = np.count_nonzero(ashore & (weaker >= 0.0)) * 0.15**2
    assert found.figures.served_km2 == pytest.approx(served_km2, rel=0.01)  # the region's grid is its own
    assert found.figures.sites[0].figures.served_km2 == pytest.approx(served_km2)
    by_grade = {row[1]: row[3] for row in found.rows.rows}
    assert by_grade["clear"] + by_grade["solid"] + by_grade["workable"] == pytest.approx(served_km2, abs=0.01)
    outlines = found.outlines()
    assert sum(outline.land_km2 or 0.0 for outline in outlines if outline.grade.counts) == pytest.approx(
        found.figures.served_km2
    )
    before = kept.stat().st_mtime_ns
    assert area(opened, found.work, folder=tmp_path).headline == found.headline
    assert kept.stat().st_mtime_ns == before


def test_ground_beyond_the_tiles_is_a_doubt(opened: OpenNet, tmp_path: Path) -> None:
    found = area(opened, settled(opened, "QK1B", radius_m=20_000.0, cell_m=500.0), folder=tmp_path)
    assert found.sites[0].has_unknown and "of the known land" in found.headline
    assert any(text.startswith("QK1B: nothing can be said of") for text in found.warnings)


def test_every_kind_of_station_can_be_asked_for() -> None:
    (option,) = (p for p in command.command.params if p.name == "kind")
    words = [word.upper() for word in option.type.choices]  # type: ignore[attr-defined]
    assert words == [*(kind.name for kind in StationKind), "EACH"]
    assert set(KIND_WORDS) == set(StationKind)


def test_a_share_is_never_said_whole_when_it_is_not() -> None:
    shares = (0.0, 0.004, 0.5, 0.996, 1.0)
    assert [share_words(share) for share in shares] == ["0%", "under 1%", "50%", "over 99%", "100%"]
