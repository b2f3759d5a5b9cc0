"""Reports change plans: from the folder's store to every answer, and --as-predicted without."""

from __future__ import annotations

import datetime
from pathlib import Path

import numpy as np
import pytest

from reach.answers.learned import Basis
from reach.answers.open_net import open_net
from reach.answers.path import path
from reach.answers.repeater import repeater
from reach.answers.report import report
from reach.answers.simplex import simplex
from reach.answers.surveys import simplex_paths, survey_net
from reach.answers.trust import trust
from reach.errors import InputProblem, NoPlan
from reach.inputs.changes import changed_net
from reach.inputs.net_folder import read_net_folder
from reach.machinery.progress import unwatched
from reach.plans.outages.failures import without_stations
from reach.reports.store import store_place
from tests.answers.small_net import made_in

NOW = datetime.datetime(2026, 11, 25, 12, 0, tzinfo=datetime.UTC)


def heard_on(evenings: int) -> str:
    """Tuesdays on which QK1A never hears QK1B, who hears it well, and all else is as usual."""
    lines = ["date,time,station,hears,on,heard,readability"]
    for k in range(evenings):
        day = datetime.date(2026, 9, 1) + datetime.timedelta(days=7 * k)
        for station, hears, grade in (
            ("QK1A", "QK1B", ""), ("QK1B", "QK1A", "R5"), ("QK1H", "QK1B", "R3"), ("QK1H", "QK1A", "R5"),
            ("QK1A", "QK1H", "R4"), ("QK1B", "QK1H", "R3"),
        ):  # fmt: skip
            lines.append(f"{day},19:40,{station},{hears},two metres,{'yes' if grade else 'no'},{grade}")
        lines.append(f"{day},19:10,QK1B,QK1A,QK0R,yes,")
        lines.append(f"{day},19:10,QK1B,QK1H,QK0R,yes,")
    return "\n".join(lines)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = made_in(tmp_path_factory.mktemp("learned"))
    (made.parent / "heard.csv").write_text(heard_on(6), encoding="utf-8")
    found = report(read_net_folder(made), [str(made.parent / "heard.csv")], now=NOW)
    assert found.headline == "48 reports added; 48 reports stored."
    return made


def test_a_plan_says_on_how_many_reports_it_stands(folder: Path) -> None:
    with open_net(folder) as opened, open_net(folder, basis=Basis.PREDICTED) as plain:
        learned, predicted = simplex(opened), simplex(plain)
    assert any("3 of these 6 links corrected by" in text for text in learned.warnings)
    assert any(text.startswith("As predicted: 48 reports") for text in predicted.warnings)
    there = learned.network.link("QK1B", "QK1A")
    assert there.chance < 0.3 < 0.6 < predicted.network.link("QK1B", "QK1A").chance
    assert learned.network.link("QK1A", "QK1B").chance > 0.9
    reported, unreported = learned.network.link("QK1A", "QK1H"), learned.network.link("QK1F", "QK1H")
    assert reported.sigma_db < 0.75 * predicted.network.link("QK1A", "QK1H").sigma_db
    assert unreported.sigma_db > reported.sigma_db


def test_both_ways_is_never_surer_than_one(folder: Path) -> None:
    with open_net(folder) as opened:
        network = simplex(opened).network
    both = network.chance_both_ways
    weaker = np.minimum(network.chance, network.chance.T)
    assert (both <= weaker + 1e-9).all()
    assert both == pytest.approx(both.T)


def test_repeater_links_learn_too(folder: Path) -> None:
    with open_net(folder) as opened, open_net(folder, basis=Basis.PREDICTED) as plain:
        learned, predicted = repeater(opened).networks[0], repeater(plain).networks[0]
    before, after = predicted.member("QK1H").talk_in, learned.member("QK1H").talk_in
    assert after.sigma_db < before.sigma_db
    assert after.chance > 0.9
    assert learned.member("QK1H").chance <= min(after.chance, learned.member("QK1H").talk_out.chance) + 1e-9


def test_path_shows_predicted_heard_and_corrected(folder: Path) -> None:
    with open_net(folder) as opened:
        found = path(opened, left="QK1A", right="QK1B")
        through = path(opened, left="QK1H", right="QK0R")
    assert found.learned is not None
    there, back = found.learned
    assert there.heard_words == "proven: heard on 6 of 6 evenings, mostly R5, last 2026-10-06"
    assert back.heard_words == "heard on 0 of 6 evenings"
    assert back.corrected.margin_db < back.predicted.margin_db - 5.0
    assert "work one way only: QK1B hears QK1A (almost sure)" in found.headline
    assert through.learned is not None
    assert through.learned[0].heard == 6


def test_draws_hold_what_is_left_unknown(folder: Path) -> None:
    with open_net(folder) as opened:
        network = simplex(opened).network
        assert network.lasting is not None
        one, other = np.array([0, 0, 1]), np.array([1, 3, 3])
        there, back = network.lasting.draw(np.random.default_rng(1), 20_000, one, other)
    assert there.std(axis=0) == pytest.approx(np.sqrt(network.lasting.variance[one, other]), rel=0.03)
    assert back.std(axis=0) == pytest.approx(np.sqrt(network.lasting.variance[other, one]), rel=0.03)
    drawn = [float(np.cov(there[:, k], back[:, k])[0, 1]) for k in range(3)]
    assert drawn == pytest.approx(network.lasting.covariance[one, other], rel=0.06, abs=0.5)


def test_what_if_keeps_what_was_learned_of_stations(folder: Path) -> None:
    with open_net(folder) as opened:
        plain = simplex(opened).network
        two = opened.net.channels[0]
        wishes = ("QK1B height 20 m", "add QK9NEW base 41.37,-37.93")
        changed = [changed_net(opened.net, [wish]) for wish in wishes]
        higher, joined = (simplex_paths(opened, two, changed=net, watch=unwatched) for net in changed)
    gain = higher.link("QK1B", "QK1A").margin_db - plain.link("QK1B", "QK1A").margin_db
    assert gain > 0.0, "the reports do not pull a higher mast back to what the old one did"
    assert joined.link("QK9NEW", "QK1A").sigma_db > joined.link("QK1H", "QK1A").sigma_db


def test_stations_left_out_take_their_doubt_along(folder: Path) -> None:
    with open_net(folder) as opened:
        survey = survey_net(opened, opened.net.channels[0], watch=unwatched)
    fewer = without_stations(survey.simplex, ["QK1A"])
    assert fewer.link("QK1B", "QK1H") == survey.simplex.link("QK1B", "QK1H")


def test_trust_names_the_deaf_and_judges_each_net_by_the_others(folder: Path) -> None:
    with open_net(folder) as opened:
        found = trust(opened)
    (band,) = found.bands
    assert (band.band, band.nets) == ("2 m", 6)
    assert band.trust is not None
    assert band.trust.after.brier < band.trust.before.brier
    assert found.headline.startswith("2 m: right about who was heard ")


def test_trust_without_reports(tmp_path: Path) -> None:
    with open_net(made_in(tmp_path)) as opened, pytest.raises(NoPlan, match="no reports yet"):
        trust(opened)


def test_a_refused_source_leaves_the_store_alone(tmp_path: Path) -> None:
    made = read_net_folder(made_in(tmp_path))
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    good.write_text(heard_on(1), encoding="utf-8")
    bad.write_text("what,is,this\n1,2,3\n", encoding="utf-8")
    with pytest.raises(InputProblem, match=r"bad\.csv.*no column date"):
        report(made, [str(good), str(bad)], now=NOW)
    assert not store_place(Path(made.net.folder)).exists()
    found = report(made, [str(good), "QK1A hears QK9ZZZ R3"], now=NOW)
    assert found.headline == "9 reports added; 9 reports stored."
    assert "QK9ZZZ" in " ".join(found.warnings)
    assert (
        report(made, [str(good)], now=NOW).headline == "0 reports added, 8 known already; 9 reports stored."
    )


def test_a_clock_hours_off_is_asked_about(tmp_path: Path) -> None:
    made = read_net_folder(made_in(tmp_path))
    late = tmp_path / "late.csv"
    late.write_text(heard_on(1).replace(",19:", ",00:"), encoding="utf-8")
    assert "about 20 h before" in " ".join(
        report(made, [str(late)], now=NOW).warnings
    ) or "h before" in " ".join(report(made, [str(late)], now=NOW).warnings)
