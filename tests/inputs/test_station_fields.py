"""Equipment cells, the tables of kinds, and how gaps are filled and put down."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import InputProblem
from reach.inputs.columns import Cell, Place, read_record
from reach.inputs.equipment import ANTENNAS, DEFAULTS, FEED_LINES, REPEATER_DEFAULTS, duplexer_loss_db
from reach.inputs.station_fields import (
    EQUIPMENT_COLUMNS,
    EquipmentFields,
    ExtraLoss,
    complete,
    parse_antenna,
    parse_backup,
    parse_extra_loss,
    parse_feed_line,
    parse_noise,
)
from reach.stations import BackupPower, Category, FeedLine, NoiseEnvironment, Surrounding
from reach.units import watts_to_dbm


def fields(**texts: str) -> EquipmentFields:
    cells = {name: Cell(text, name) for name, text in texts.items()}
    found, faults = read_record(EquipmentFields, EQUIPMENT_COLUMNS, cells, Place("roster.csv", 2))
    assert found is not None, faults
    return found


def base(given_fields: EquipmentFields, own: EquipmentFields | None = None):  # type: ignore[no-untyped-def]
    return complete(
        given_fields, own_defaults=own or EquipmentFields(), defaults=DEFAULTS[Category.BASE], who="base"
    )


@pytest.mark.parametrize(
    ("kind", "frequency_mhz", "length_m", "loss_db"),
    # handbook loss tables, from memory: RG-213 2.55 dB for 30 m at 146 MHz, LMR-400 class 2.66 dB at 446 MHz,
    # RG-58C class 6.05 dB at 146 MHz, half-inch hardline 0.79 dB at 146 MHz
    [
        ("RG-213", 146.0, 30.0, 2.55),
        ("LMR-400", 446.0, 30.0, 2.66),
        ("RG-58C", 146.0, 30.0, 6.05),
        ("half-inch hardline", 146.0, 30.0, 0.79),
    ],
)
def test_feed_line_losses(kind: str, frequency_mhz: float, length_m: float, loss_db: float) -> None:
    line = FEED_LINES[kind]
    feed = FeedLine(kind, length_m, line.k1_db, line.k2_db)
    assert feed.loss_db(frequency_mhz) == pytest.approx(loss_db, abs=0.01)


@pytest.mark.parametrize("kind", FEED_LINES.values(), ids=lambda k: k.name)
def test_feed_lines_lose_more_at_higher_frequency(kind) -> None:  # type: ignore[no-untyped-def]
    losses = [
        FeedLine("", 10.0, kind.k1_db, kind.k2_db).loss_db(f) for f in (28.0, 52.0, 146.0, 223.0, 446.0)
    ]
    assert losses == sorted(losses) and losses[0] > 0.0


def test_every_default_names_a_known_kind() -> None:
    for defaults in (*DEFAULTS.values(), REPEATER_DEFAULTS):
        assert defaults.antenna in ANTENNAS
        assert defaults.feed_line in FEED_LINES or not defaults.feed_line
    assert watts_to_dbm(50.0) == pytest.approx(DEFAULTS[Category.BASE].transmit_power_dbm, abs=1e-4)
    assert watts_to_dbm(5.0) == pytest.approx(DEFAULTS[Category.PORTABLE].transmit_power_dbm, abs=1e-4)


def test_gains_by_band_ascend_in_frequency() -> None:
    for kind in ANTENNAS.values():
        frequencies = [f for f, _ in kind.gain_by_band_dbi]
        assert frequencies == sorted(frequencies)


def test_duplexer_loss_is_larger_on_two_metres() -> None:
    assert duplexer_loss_db(146.94) > duplexer_loss_db(446.0) > 0.0


@pytest.mark.parametrize(
    ("text", "name", "gain"),
    [
        ("Base Vertical", "base vertical", 5.0),
        ("handheld-whip", "handheld whip", -5.0),
        ("3-element Yagi", "3-element yagi", 7.5),
        ("6 dBd", "", 8.15),
        ("-3 dBi", "", -3.0),
    ],
)
def test_antennas(text: str, name: str, gain: float) -> None:
    kind = parse_antenna(text)
    assert (kind.name, kind.gain_dbi) == (name, pytest.approx(gain))


def test_unknown_antenna_names_the_nearest() -> None:
    with pytest.raises(InputProblem, match="did you mean base vertical"):
        parse_antenna("base vertcal")


@pytest.mark.parametrize(
    ("text", "kind", "length_m", "loss_db"),
    [
        ("RG-213", "RG-213", None, None),
        ("rg213 30 m", "RG-213", 30.0, None),
        ("RG-213/U, 100 ft", "RG-213", 30.48, None),
        ("half-inch hardline 12 m", "half-inch hardline", 12.0, None),
        ("2.5 dB", None, None, 2.5),
        ("none", None, None, 0.0),
    ],
)
def test_feed_lines(text: str, kind: str | None, length_m: float | None, loss_db: float | None) -> None:
    choice = parse_feed_line(text)
    assert (choice.kind.name if choice.kind else None) == kind
    assert choice.length_m == pytest.approx(length_m)
    assert choice.loss_db == loss_db


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("no", None),
        ("mains", None),
        ("yes", BackupPower()),
        ("8 h", BackupPower(hours=8.0)),
        ("90 min", BackupPower(hours=1.5)),
        ("12 Ah", BackupPower(battery_ah=12.0)),
        ("12Ah 13.2V", BackupPower(battery_ah=12.0, battery_v=13.2)),
        ("100 Ah, 24 V, 10 h", BackupPower(battery_ah=100.0, battery_v=24.0, hours=10.0)),
    ],
)
def test_backup(text: str, expected: BackupPower | None) -> None:
    assert parse_backup(text) == expected


def test_backup_headings_carry_units() -> None:
    assert parse_backup("12", "Ah") == BackupPower(battery_ah=12.0)
    assert parse_backup("8", "h") == BackupPower(hours=8.0)
    assert parse_backup("0", "h") is None


@pytest.mark.parametrize("text", ["12", "a lot", "12 V", "-3 h", "nan Ah"])
def test_refused_backup(text: str) -> None:
    with pytest.raises(InputProblem):
        parse_backup(text)


def test_surroundings_add_up() -> None:
    both = (Surrounding.INDOORS, Surrounding.ON_BELT)
    assert parse_extra_loss("indoors + on the belt") == ExtraLoss(0.0, both)
    assert parse_extra_loss("2 dB + Indoors") == ExtraLoss(2.0, (Surrounding.INDOORS,))
    assert parse_extra_loss("3.5") == parse_extra_loss("3.5", "dB") == ExtraLoss(3.5)
    assert parse_extra_loss("open air") == ExtraLoss()
    with pytest.raises(InputProblem, match="did you mean indoors"):
        parse_extra_loss("indors")


def test_noise_environments() -> None:
    assert parse_noise("Quiet rural") is NoiseEnvironment.QUIET_RURAL
    with pytest.raises(InputProblem, match="city, residential, rural, quiet_rural"):
        parse_noise("loud")


def test_every_gap_is_filled_and_put_down() -> None:
    done = base(EquipmentFields())
    assert done.antenna.height_m == 9.0 and done.antenna.kind == "base vertical"
    assert done.feed_line.kind == "RG-213" and done.feed_line.length_m == 15.0
    assert done.assumed == (
        "antenna height 9 m (base default)",
        "power 50 W (base default)",
        "antenna base vertical (base default)",
        "receiver sensitivity -121 dBm for 12 dB SINAD (base default)",
        "feed line 15 m of RG-213 (base default)",
    )


def test_nothing_is_assumed_where_all_is_given() -> None:
    done = base(
        fields(
            antenna_height="12 m",
            power="25 W",
            antenna="j-pole",
            feed_line="RG-8X 12 m",
            sensitivity="0.2 uV",
        )
    )
    assert done.assumed == ()


def test_the_nets_own_defaults_come_first() -> None:
    done = base(
        fields(power="25 W"), fields(antenna_height="30 ft", power="10 W", extra_loss="3", backup="8 h")
    )
    assert done.antenna.height_m == pytest.approx(9.144)
    assert done.transmit_power_dbm == pytest.approx(43.979, abs=1e-3)
    assert done.extra_loss == ExtraLoss(3.0) and done.backup == BackupPower(hours=8.0)
    assert "antenna height 9.144 m (base default in net.toml)" in done.assumed


def test_a_stated_gain_overrides_the_kinds_own() -> None:
    done = base(fields(antenna="base vertical", gain="7 dBi"))
    assert done.antenna.gain_dbi_at(446.0) == done.antenna.gain_dbi_at(146.0) == 7.0
    assert done.antenna.kind == "base vertical"


def test_a_whole_loss_needs_no_kind() -> None:
    done = base(fields(feed_loss="2.5"))
    assert done.feed_line.loss_db(146.0) == done.feed_line.loss_db(446.0) == 2.5
    assert not any("feed" in text for text in done.assumed)


@pytest.mark.parametrize(
    "texts", [{"feed_line": "2 dB", "feed_loss": "3"}, {"feed_line": "RG-8X 10 m", "feed_length": "12 m"}]
)
def test_values_given_twice_are_refused(texts: dict[str, str]) -> None:
    with pytest.raises(InputProblem, match="given twice"):
        base(fields(**texts))


@pytest.mark.parametrize(
    "parse", [parse_antenna, parse_feed_line, parse_backup, parse_extra_loss, parse_noise]
)
@settings(deadline=None, max_examples=100)
@given(
    text=st.one_of(
        st.text(max_size=30), st.from_regex(r"[a-zA-Z0-9 ,.;+-]{0,20}(Ah|h|V|m|dB|dBd)?", fullmatch=True)
    )
)
def test_any_text_is_read_or_refused(parse, text: str) -> None:  # type: ignore[no-untyped-def]
    try:
        parse(text)
    except InputProblem as problem:
        assert len(str(problem)) < 900
