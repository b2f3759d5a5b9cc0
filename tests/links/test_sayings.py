"""How chances and margins are said."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.links.network import DirectedLink
from reach.links.sayings import (
    chance_in_figures,
    chance_in_words,
    comes_and_goes,
    margin_in_words,
    path_sentence,
)
from reach.propagation.variability import SigmaParts


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (1.0, "almost sure"),
        (0.95, "almost sure: 19 in 20"),
        (0.9, "likely: 9 in 10"),
        (0.7, "likely: 7 in 10"),
        (0.6, "even: 6 in 10"),
        (0.4, "even: 4 in 10"),
        (0.2, "unlikely: 2 in 10"),
        (0.1, "unlikely: 1 in 10"),
        (0.05, "hardly: 1 in 20"),
        (0.01, "hardly"),
        (0.0, "hardly"),
        (math.nan, "no radio path"),
    ],
)
def test_chance_in_words(chance: float, words: str) -> None:
    assert chance_in_words(chance) == words


@given(st.floats(0.0, 1.0))
def test_the_words_are_never_far_from_the_chance(chance: float) -> None:
    words = chance_in_words(chance)
    said = {"almost sure": 1.0, "hardly": 0.0}.get(words)
    if said is None:
        word, _, figure = words.partition(": ")
        count, _, of = figure.split()
        said = int(count) / int(of)
        assert chance_in_figures(chance) == figure and word
    assert abs(said - chance) <= 0.05 + 1e-9


@pytest.mark.parametrize("chance", [-0.1, 1.1])
def test_what_is_no_chance_is_refused(chance: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        chance_in_words(chance)


@pytest.mark.parametrize(
    ("margin_db", "words"),
    [
        (6.2, "6 dB over workable"),
        (-4.0, "4 dB under workable"),
        (0.3, "just workable"),
        (-0.3, "just under workable"),
        (math.nan, "no radio path"),
    ],
)
def test_margin_in_words(margin_db: float, words: str) -> None:
    assert margin_in_words(margin_db) == words


@pytest.mark.parametrize(
    ("there_db", "back_db", "verdict"),
    [
        (6.0, 0.0, "should work each other"),
        (2.0, -0.1, "should work one way only"),
        (-4.0, 9.0, "should work one way only"),
        (-9.0, -3.0, "should not work each other"),
    ],
)
def test_path_sentence(there_db: float, back_db: float, verdict: str) -> None:
    def link(tx: str, rx: str, margin_db: float, chance: float) -> DirectedLink:
        return DirectedLink(
            tx=tx,
            rx=rx,
            frequency_mhz=146.0,
            distance_m=1e4,
            bearing_deg=0.0,
            path_loss_db=120.0,
            received_dbm=-100.0,
            margin_db=margin_db,
            chance=chance,
            line_of_sight=True,
            fresnel_clearance=1.0,
        )

    sentence = path_sentence(link("QK1A", "QK1E", there_db, 0.8), link("QK1E", "QK1A", back_db, 0.1))
    assert sentence == (
        f"QK1A and QK1E {verdict}: QK1E hears QK1A (likely, 8 in 10), QK1A hears QK1E (unlikely, 1 in 10)."
    )


@pytest.mark.parametrize(
    ("margin_db", "evening_db", "decides"),
    # 60 km behind several edges: 70 cm at the limit comes and goes (54 in 100), 2 m less so (38)
    [(0.0, 6.5, True), (0.0, 4.3, False), (20.0, 6.5, False), (-20.0, 6.5, False)],
)
def test_the_evening_is_named_where_it_decides(margin_db: float, evening_db: float, decides: bool) -> None:
    """Not known 11.2 dB in all, the evening as given; a normal pair worked out by hand."""
    spread = SigmaParts(path_db=10.0, tx_station_db=3.5, rx_station_db=3.5, time_db=evening_db)
    link = DirectedLink(
        "QK1A", "QK1E", 146.0, 6e4, 0.0, 150.0, -110.0, margin_db, 0.5, False, -1.0,
        sigma_db=float(spread.total_db), spread=spread,
    )  # fmt: skip
    assert comes_and_goes(link) is decides
    said = path_sentence(link, link)
    assert said.endswith("It may come and go with the evening.") is decides
