"""How chances and margins are said."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.links.network import DirectedLink
from reach.links.words import chance_in_words, margin_in_words, path_sentence


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (1.0, "almost every net"),
        (0.95, "19 nets in 20"),
        (0.9, "9 nets in 10"),
        (0.5, "5 nets in 10"),
        (0.2, "2 nets in 10"),
        (0.1, "1 net in 10"),
        (0.05, "1 net in 20"),
        (0.01, "almost never"),
        (0.0, "almost never"),
        (math.nan, "no radio path"),
    ],
)
def test_chance_in_words(chance: float, words: str) -> None:
    assert chance_in_words(chance) == words


@given(st.floats(0.0, 1.0))
def test_the_words_are_never_far_from_the_chance(chance: float) -> None:
    words = chance_in_words(chance)
    said = {"almost every net": 1.0, "almost never": 0.0}.get(words)
    if said is None:
        count, _, _, of = words.split()
        said = int(count) / int(of)
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
        (6.0, 0.0, "work each other"),
        (2.0, -0.1, "work one way only"),
        (-4.0, 9.0, "work one way only"),
        (-9.0, -3.0, "do not work each other"),
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
        f"QK1A and QK1E {verdict}: QK1E hears QK1A 8 nets in 10, QK1A hears QK1E 1 net in 10."
    )
