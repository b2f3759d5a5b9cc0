"""An area round a station that was heard: the same correction as a link of it nobody reported on has."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from rasterio.warp import transform

from reach.answers.area import AreaAnswer, area
from reach.answers.area_work import area_work
from reach.answers.learned import Basis
from reach.answers.open_net import open_net
from reach.answers.report import report
from reach.answers.sites import sites
from reach.answers.surveys import simplex_paths
from reach.coverage.area.service import StationKind, usual_station
from reach.coverage.area.sites import CHANCE, TALK_IN, TALK_OUT
from reach.inputs.net_folder import read_net_folder
from reach.inputs.search_area import TypedArea, read_area
from reach.learning.correct import heard_end
from reach.links.network import SimplexNetwork
from reach.machinery.progress import unwatched
from reach.stations import Position
from tests.answers.small_net import made_in

NOW = datetime.datetime(2026, 11, 1, tzinfo=datetime.UTC)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """On eight evenings QK1A hears nobody and nobody hears it: a broken feed line, say."""
    made = made_in(tmp_path_factory.mktemp("heard"))
    rows = ["date,time,station,hears,on,heard,readability"]
    for week in range(8):
        day = (datetime.date(2026, 9, 1) + datetime.timedelta(weeks=week)).isoformat()
        rows += [f"{day},19:40,QK1B,QK1A,two metres,no,", f"{day},19:41,QK1A,QK1B,two metres,no,"]
        rows += [f"{day},19:42,QK1H,QK1A,two metres,no,", f"{day},19:43,QK1A,QK1H,two metres,no,"]
    (made / "heard.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    report(read_net_folder(made), [str(made / "heard.csv")], now=NOW)
    return made


def round_qk1a(folder: Path, basis: Basis) -> AreaAnswer:
    with open_net(folder, basis=basis) as opened:
        work = area_work(opened.net, ["QK1A"], kind=StationKind.MOBILE, radius_m=6_000.0, cell_m=200.0)
        return area(opened, work)


def network_with(folder: Path, basis: Basis, position: Position) -> SimplexNetwork:
    put = replace(usual_station(StationKind.MOBILE), call_sign="QK1X", position=position)
    with open_net(folder, basis=basis) as opened:
        net = opened.net
        changed = replace(net, stations=(*net.stations, put))
        return simplex_paths(opened, net.channels[0], changed=changed, watch=unwatched)


def test_cells_move_as_links_nobody_reported_on_do(folder: Path) -> None:
    heard, predicted = (round_qk1a(folder, basis) for basis in (Basis.HEARD, Basis.PREDICTED))
    raster, before = heard.sites[0].raster, predicted.sites[0].raster
    row, column = 20, 38
    east, north = raster.transform @ (column + 0.5, row + 0.5)
    (longitude,), (latitude,) = transform(raster.crs, "EPSG:4326", [east], [north])
    place = Position(latitude, longitude)
    now, then = (network_with(folder, basis, place) for basis in (Basis.HEARD, Basis.PREDICTED))
    a, x = now.index("QK1A"), now.index("QK1X")
    for band, tx, rx in ((TALK_IN, x, a), (TALK_OUT, a, x)):
        moved = raster.layer(band).values - before.layer(band).values
        moved = moved[np.isfinite(moved)]
        assert np.ptp(moved) < 1e-3
        assert moved[0] == pytest.approx(now.margin_db[tx, rx] - then.margin_db[tx, rx], abs=1e-3)
        assert moved[0] < -3.0
    assert raster.layer(TALK_OUT).values[row, column] == pytest.approx(now.margin_db[a, x], abs=1.5)
    both = float(now.chance_both_ways[a, x])
    assert raster.layer(CHANCE).values[row, column] == pytest.approx(both, abs=0.06)


def test_what_moved_is_said_and_not_where_reports_are_left_aside(folder: Path) -> None:
    heard, predicted = (round_qk1a(folder, basis) for basis in (Basis.HEARD, Basis.PREDICTED))
    (said,) = (text for text in heard.warnings if text.startswith("QK1A by"))
    assert said.startswith("QK1A by 32 reports: it is heard ") and said.count("worse than predicted") == 2
    assert not any("QK1A by" in text for text in predicted.warnings)
    tags = heard.sites[0].raster.tags
    assert float(tags["HEARD_OUT_DB"]) < 0.0 and "HEARD_OUT_DB" not in predicted.sites[0].raster.tags


def test_a_place_nobody_reported_from_moves_with_the_band(folder: Path) -> None:
    with open_net(folder) as opened:
        work = area_work(opened.net, ["QK1F"], kind=StationKind.MOBILE, radius_m=3_000.0, cell_m=200.0)
        (said,) = (text for text in area(opened, work).warnings if text.startswith("QK1F by"))
    assert said.startswith("QK1F by reports of others on 2 m: ")


def test_a_search_takes_members_as_they_were_heard(folder: Path) -> None:
    found = []
    for basis in (Basis.HEARD, Basis.PREDICTED):
        with open_net(folder, basis=basis) as opened:
            area = read_area(TypedArea(resolution="400 m", near="QK1H", within="2 km"), opened.net)
            found.append(sites(opened, area=area))
            learned = opened.learned.band("2 m", watch=unwatched)
            if learned is not None:
                end = heard_end(learned, "QK1A", site_sigma_db=0.0, noise_sigma_db=0.0)
    heard, predicted = found
    assert end.in_db < -3.0 and end.out_db < -3.0
    before = {site.site.cell: site for site in predicted.shown}
    same = [(site, before[site.site.cell]) for site in heard.shown if site.site.cell in before]
    assert same
    for site, other in same:
        (now,) = (link for link in site.links if link.call_sign == "QK1A")
        (then,) = (link for link in other.links if link.call_sign == "QK1A")
        assert now.talk_in.margin_db - then.talk_in.margin_db == pytest.approx(end.out_db, abs=1e-6)
        assert now.talk_out.margin_db - then.talk_out.margin_db == pytest.approx(end.in_db, abs=1e-6)
    for answer in found:  # cell by cell the search and the single paths count nearly the same
        differing = sum(len(site.lost) + len(site.gained) for site in answer.shown)
        assert differing <= len(answer.shown)
    assert any(text.startswith("3 of 4 members as heard by 32 reports") for text in heard.warnings)
    assert not any("as heard by" in text for text in predicted.warnings)
