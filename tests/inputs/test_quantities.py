"""Numbers with units: what is read, what is refused and with which words."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import InputProblem
from reach.inputs import quantities as q
from reach.units import power_in_words


@pytest.mark.parametrize(
    ("text", "heading_unit", "metres"),
    [
        ("35 ft", "", 10.668),
        ("35ft", "", 10.668),
        ("35'", "", 10.668),
        ("35 feet", "", 10.668),
        ("10.7 m", "", 10.7),
        ("10,7 m", "", 10.7),
        ("10.7", "m", 10.7),
        ("35", "ft", 10.668),
        ("35 ft", "ft", 10.668),
        ("\u00a012\u202fm ", "", 12.0),
        ("0", "m", 0.0),
        ("1e1 m", "", 10.0),
    ],
)
def test_heights(text: str, heading_unit: str, metres: float) -> None:
    assert q.parse_height_m(text, heading_unit) == pytest.approx(metres, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "dbm"),
    [
        # definition of dBm: 10 log10 of the power over 1 mW
        ("50 W", 46.98970004336019),
        ("5W", 36.98970004336019),
        ("500 mW", 26.98970004336019),
        ("1 kW", 60.0),
        ("37 dBm", 37.0),
        ("7 dBW", 37.0),
        ("50 watts", 46.98970004336019),
    ],
)
def test_powers(text: str, dbm: float) -> None:
    assert q.parse_power_dbm(text) == pytest.approx(dbm, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "dbi"),
    [("6 dBd", 8.15), ("8.15 dBi", 8.15), ("-5 dBi", -5.0), ("−3,5 dBi", -3.5), ("0 dbd", 2.15)],
)
def test_gains(text: str, dbi: float) -> None:
    assert q.parse_gain_dbi(text) == pytest.approx(dbi, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "dbm"),
    # 20 log10(uV) - 106.99 for 50 ohm, worked by hand
    [
        ("0.2 uV", -120.969),
        ("0.2 µV", -120.969),
        ("0.2 μV", -120.969),
        ("1 microvolt", -106.990),
        ("-121 dBm", -121.0),
    ],
)
def test_sensitivities(text: str, dbm: float) -> None:
    assert q.parse_sensitivity_dbm(text) == pytest.approx(dbm, abs=6e-4)


@pytest.mark.parametrize(("text", "mhz"), [("146.52", 146.52), ("146.52 MHz", 146.52), ("446000 kHz", 446.0)])
def test_frequencies(text: str, mhz: float) -> None:
    assert q.parse_frequency_mhz(text) == pytest.approx(mhz)


def test_durations() -> None:
    assert q.parse_duration_h("90 min") == pytest.approx(1.5)
    assert q.parse_duration_h("4 h") == 4.0
    assert q.CHARGE.parse("12 Ah") == 12.0


@pytest.mark.parametrize(
    ("parse", "text", "words"),
    [
        (q.parse_height_m, "35 fee", '"35 fee" is not a length; write 35 ft or 10.7 m'),
        (q.parse_height_m, "35", '"35" has no unit; write 35 ft or 10.7 m, or put the unit in the heading'),
        (q.parse_height_m, "-3 m", '"-3 m" is outside 0 to 1000 m'),
        (q.parse_height_m, "nan", '"nan" is not a length'),
        (q.parse_height_m, "inf m", '"inf m" is not a length'),
        (q.parse_height_m, "1e999 m", '"1e999 m" is too large'),
        (q.parse_height_m, "", '"" is not a length'),
        (q.parse_height_m, "1,500 m", "can be read two ways; write 1500 or 1.500"),
        (q.parse_height_m, "1.234,5 m", "is not a length"),
        (q.parse_height_m, "٣٥ m", "is not a length"),
        (q.parse_power_dbm, "0 W", '"0 W" is outside 1 microwatt to 10 kW'),
        (q.parse_power_dbm, "-5 W", "is outside"),
        (q.parse_power_dbm, "50", "has no unit"),
        (q.parse_power_dbm, "1e300 kW", "is outside"),
        (
            q.parse_gain_dbi,
            "6 dB",
            "does not say over what the gain is; write dBi (isotropic) or dBd (dipole)",
        ),
        (q.parse_gain_dbi, "6", "has no unit"),
        (q.parse_loss_db, "-1", "is outside 0 to 100 dB"),
        (q.parse_frequency_mhz, "7.1", "is outside 20 to 3000 MHz"),
        (q.parse_sensitivity_dbm, "0.2", "has no unit"),
        (q.parse_yes_no, "perhaps", '"perhaps" is neither yes nor no'),
    ],
)
def test_refusals_say_what_and_how(parse, text, words) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(InputProblem) as refused:
        parse(text)
    assert words in str(refused.value)


def test_unit_in_cell_and_heading_may_not_contradict() -> None:
    with pytest.raises(InputProblem, match=r'"35 ft" is in ft but the heading says m; write the value in m'):
        q.parse_height_m("35 ft", "m")


def test_long_and_unprintable_values_are_quoted_short_and_visible() -> None:
    with pytest.raises(InputProblem) as refused:
        q.parse_height_m("\x1b[31m" + "z" * 5000)
    assert "\x1b" not in str(refused.value)
    assert len(str(refused.value)) < 200


PARSERS = [
    q.parse_number,
    q.parse_height_m,
    q.parse_length_m,
    q.parse_power_dbm,
    q.parse_gain_dbi,
    q.parse_loss_db,
    q.parse_sensitivity_dbm,
    q.parse_frequency_mhz,
    q.parse_duration_h,
    q.parse_yes_no,
]
TEXTS = st.one_of(
    st.text(max_size=30),
    st.from_regex(r"[-+]?[0-9.,eE]{1,12} ?[a-zA-Zµ']{0,4}", fullmatch=True),
    st.floats().map(str),
)


@pytest.mark.parametrize("parse", PARSERS)
@settings(deadline=None, max_examples=150)
@given(text=TEXTS)
def test_any_text_gives_a_finite_value_or_an_input_problem(parse, text: str) -> None:  # type: ignore[no-untyped-def]
    try:
        value = parse(text)
    except InputProblem as problem:
        assert "\n" not in str(problem)
    else:
        assert math.isfinite(value)


@settings(deadline=None)
@given(metres=st.floats(min_value=0.0, max_value=1000.0))
def test_what_is_written_is_what_is_read(metres: float) -> None:
    assert q.parse_height_m(f"{metres!r} m") == metres


@pytest.mark.parametrize(
    ("power_dbm", "words"), [(36.9897, "5 W"), (26.9897, "500 mW"), (61.7609, "1500 W"), (33.8, "2.4 W")]
)
def test_powers_are_said_one_way(power_dbm: float, words: str) -> None:
    assert power_in_words(power_dbm) == words


def test_a_bare_distance_is_asked_for_its_unit_with_the_figure_typed() -> None:
    with pytest.raises(InputProblem, match=r'"30" has no unit; write 30 km, 30 mi, 30 m or 30 ft'):
        q.parse_distance_m("30")
