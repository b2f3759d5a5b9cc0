"""Equipment cells, the tables of kinds, and how gaps are filled and put down."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import InputProblem
from reach.inputs.bands import parse_bands
from reach.inputs.columns import Cell, Place, read_record
from reach.inputs.equipment import ANTENNAS, DEFAULTS, FEED_LINES, REPEATER_DEFAULTS, duplexer_loss_db
from reach.inputs.equipment_cells import (
    ExtraLoss,
    parse_antenna,
    parse_backup,
    parse_direction,
    parse_extra_loss,
    parse_feed_line,
    parse_land,
    parse_noise,
    parse_polarisation,
)
from reach.inputs.station_fields import MEMBER_COLUMNS, EquipmentFields, complete
from reach.stations import (
    Aim,
    BackupPower,
    Category,
    FeedLine,
    Land,
    NoiseEnvironment,
    Polarisation,
    Surrounding,
)
from reach.units import watts_to_dbm


def fields(**texts: str) -> EquipmentFields:
    cells = {name: Cell(text, name) for name, text in texts.items()}
    found, faults = read_record(EquipmentFields, MEMBER_COLUMNS, cells, Place("roster.csv", 2))
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
        "mains only (base default)",
        "houses round it (not stated)",
    )


def test_nothing_is_assumed_where_all_is_given() -> None:
    done = base(
        fields(
            antenna_height="12 m",
            power="25 W",
            antenna="j-pole",
            feed_line="RG-8X 12 m",
            sensitivity="0.2 uV",
            land="open",
            backup="no",
        )
    )
    assert done.assumed == () and done.land is Land.OPEN


def test_what_stands_round_a_station() -> None:
    assert [parse_land(text) for text in ("open", "Houses", " TREES ", "town")] == list(Land)
    with pytest.raises(
        InputProblem, match=r'"moor" does not say .*; write one of: open, houses, trees, town'
    ):
        parse_land("moor")
    of_net = base(EquipmentFields(), fields(land="trees"))
    assert of_net.land is Land.TREES and "trees round it (base default in net.toml)" in of_net.assumed
    wooded = base(fields(extra_loss="woodland"))
    assert wooded.land is None and not any("houses" in text for text in wooded.assumed)


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
    "parse",
    [
        parse_antenna,
        parse_feed_line,
        parse_backup,
        parse_extra_loss,
        parse_noise,
        parse_direction,
        parse_polarisation,
        parse_bands,
    ],
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


@pytest.mark.parametrize(
    ("text", "aim", "bearing_deg", "towards"),
    [
        ("225", Aim.FIXED, 225.0, ""),
        ("225 deg", Aim.FIXED, 225.0, ""),
        ("22.5°", Aim.FIXED, 22.5, ""),
        ("360 degrees", Aim.FIXED, 0.0, ""),
        ("SW", Aim.FIXED, 225.0, ""),
        ("nne", Aim.FIXED, 22.5, ""),
        ("rotates", Aim.TURNS, 0.0, ""),
        ("unknown", Aim.ANYWHERE, 0.0, ""),
        ("qk3abc", Aim.FIXED, 0.0, "QK3ABC"),
        ("HM82bc34", Aim.FIXED, 0.0, "HM82BC34"),
    ],
)
def test_directions(text: str, aim: Aim, bearing_deg: float, towards: str) -> None:
    found = parse_direction(text)
    assert (found.aim, found.bearing_deg, found.towards) == (aim, bearing_deg, towards)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("400", "is outside 0 to 360 deg"),
        ("-5", "is outside 0 to 360 deg"),
        ("south by west", "is not a direction"),
    ],
)
def test_no_directions(text: str, words: str) -> None:
    with pytest.raises(InputProblem, match=words):
        parse_direction(text)


@pytest.mark.parametrize(
    ("text", "bands"),
    [
        ("2 m, 70 cm", ("2 m", "70 cm")),
        ("70cm/2m", ("2 m", "70 cm")),
        ("2 metres and 10 meters", ("10 m", "2 m")),
        ("1.25 m", ("1.25 m",)),
        ("70 centimetres", ("70 cm",)),
        ("all", ()),
    ],
)
def test_bands(text: str, bands: tuple[str, ...]) -> None:
    assert parse_bands(text) == bands


def test_no_bands() -> None:
    with pytest.raises(
        InputProblem, match=r"\"20 m\" is not a band known here; write bands such as 2 m / 70 cm"
    ):
        parse_bands("2 m, 20 m")


def test_beams_and_what_has_no_direction() -> None:
    aimed = base(
        fields(antenna="5-element yagi", direction="225", front_to_back="20", polarisation="horizontal")
    )
    assert aimed.antenna.beam is not None and aimed.antenna.beam.bearing_deg == 225.0
    assert aimed.antenna.beam.front_to_back_db == 20.0
    assert aimed.antenna.polarisation is Polarisation.HORIZONTAL
    by_gain = base(fields(antenna="9 dBd", direction="rotates"))
    assert by_gain.antenna.beam is not None and by_gain.antenna.beam.aim is Aim.TURNS
    stated = base(fields(antenna="5-element yagi", gain="8 dBd", direction="N"))
    assert stated.antenna.beam is not None and stated.antenna.gain_dbi == pytest.approx(10.15)
    assert base(fields(antenna="9 dBd")).antenna.beam is None
    with pytest.raises(InputProblem, match="a j-pole radiates alike on every bearing"):
        base(fields(antenna="j-pole", direction="225"))
    with pytest.raises(InputProblem, match="an antenna without a direction radiates alike"):
        base(fields(gain="6 dBd", front_to_back="20 dB"))


def test_a_beam_without_a_direction_is_said_and_counts_as_chosen() -> None:
    turned = base(fields(antenna="3-element yagi"))
    assert turned.antenna.beam is not None and turned.antenna.beam.aim is Aim.TURNS
    assert "beam turned to whoever it works (base default)" in turned.assumed
    unknown = complete(
        fields(antenna="3-element yagi"),
        own_defaults=EquipmentFields(),
        defaults=DEFAULTS[Category.BASE],
        who="base",
        undirected=Aim.ANYWHERE,
    )
    assert unknown.antenna.beam is not None and unknown.antenna.beam.aim is Aim.ANYWHERE
    assert "beam of unknown direction (base default)" in unknown.assumed


def test_what_runs_without_mains_goes_by_the_kind_of_station() -> None:
    def of(category: Category, **texts: str):  # type: ignore[no-untyped-def]
        return complete(
            fields(**texts),
            own_defaults=EquipmentFields(),
            defaults=DEFAULTS[category],
            who=category.value,
            bands=("2 m", "70 cm"),
        )

    assert of(Category.BASE).backup is None and "mains only (base default)" in of(Category.BASE).assumed
    for category in (Category.MOBILE, Category.PORTABLE):
        assert of(category).backup == BackupPower()
        assert f"battery power ({category.value} default)" in of(category).assumed
        assert of(category, backup="no").backup is None
    assert "radios for 2 m, 70 cm (base default)" in of(Category.BASE).assumed
    assert not any("radios" in text for text in of(Category.BASE, bands="2 m").assumed)


def test_the_belt_is_counted_once() -> None:
    kind = base(fields(antenna="handheld whip on belt"))
    both = base(fields(antenna="handheld whip on belt", extra_loss="on the belt + 3 dB"))
    said = base(fields(antenna="handheld whip", extra_loss="on the belt"))
    for done in (kind, both, said):
        assert done.extra_loss.surroundings == (Surrounding.ON_BELT,)
        assert done.antenna.gain_dbi_at(146.0) == -5.0
    # a stated gain is the whole of it
    assert base(fields(antenna="handheld whip on belt", gain="-12 dBi")).extra_loss.surroundings == ()
