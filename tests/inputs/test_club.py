"""Net folders: net.toml with its roster, good and bad."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import InputProblem
from reach.inputs.club import read_net
from reach.stations import Land, Net, NoiseEnvironment, Polarisation, Surface

ROSTER = "call_sign,latitude,longitude,category\nQK3ABC,41.2,-38.1,base\nQK3ABD,41.3,-38.2,mobile\n"
CHANNEL = "[[channels]]\nfrequency_mhz = 146.52\n"
REPEATER = """[[repeaters]]
call_sign = "QK3RPT/R"
latitude = 41.4
longitude = -38.2
output_mhz = 146.94
offset_mhz = -0.6
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "roster.csv").write_text(ROSTER, encoding="utf-8")
    return tmp_path


def net(folder: Path, toml: str) -> Net:
    (folder / "net.toml").write_text(toml, encoding="utf-8")
    return read_net(folder)


def faults(folder: Path, toml: str) -> list[str]:
    with pytest.raises(InputProblem) as refused:
        net(folder, toml)
    return str(refused.value).splitlines()


def test_one_channel_is_enough(folder: Path) -> None:
    read = net(folder, CHANNEL)
    assert [s.call_sign for s in read.stations] == ["QK3ABC", "QK3ABD"]
    assert read.repeaters == ()
    assert read.name == folder.name
    assert read.channels[0].name == "146.52 MHz"
    assert read.terrain_folders == (str(folder / "terrain"),)
    assert read.warnings == ()
    assert any("noise environment residential" in text for text in read.assumed)


def test_everything_can_be_said(folder: Path) -> None:
    (folder / "cover.tif").write_bytes(b"")
    read = net(
        folder,
        """
[net]
name = "Evening {{net}}"
region = 1
noise = "quiet rural"
model = "delta-bullington"
k_factor = 1.0
[terrain]
folders = ["tiles", "/somewhere/else"]
elevation_unit = "feet"
surface = "bare"
land_cover = "cover.tif"
[terrain.clutter_heights_m]
10 = 12
50 = "8 m"
[[channels]]
name = "two"
frequency = "145.5 MHz"
deviation_khz = 2.5
polarization = "horizontal"
[[channels]]
name = "seventy"
frequency_mhz = 433.5
[[repeaters]]
call_sign = "qk3rpt/r"
name = "Ridge"
locator = "HN01wh55"
output_mhz = 145.6
input_mhz = 145.0
tone_hz = 88.5
power = "25 W"
antenna = "6 dBd"
antenna_height_ft = 100
feed_line = "half-inch hardline 40 m"
duplexer_loss_db = 1.2
desensitising_db = 2
sensitivity_uv = 0.25
noise = "rural"
local_noise_db = 3
backup = "100 Ah"
land = "open"
[defaults.base]
antenna_height = "30 ft"
power_w = 25
[defaults.portable]
extra_loss = "indoors"
""",
    )
    assert read.name == "Evening {{net}}" and read.region == 1 and read.k_factor == 1.0
    assert read.noise is NoiseEnvironment.QUIET_RURAL and read.model == "delta_bullington"
    assert read.terrain_folders == (str(folder / "tiles"), str(Path("/somewhere/else").resolve()))
    assert read.elevation_unit == "ft" and read.land_cover == str(folder / "cover.tif")
    assert read.clutter_heights_m == (("10", 12.0), ("50", 8.0))
    assert read.channels[0].deviation_khz == 2.5
    assert read.channels[0].polarisation is Polarisation.HORIZONTAL
    (repeater,) = read.repeaters
    assert repeater.call_sign == "QK3RPT/R" and repeater.tone_hz == 88.5
    assert repeater.antenna.height_m == pytest.approx(30.48)
    assert repeater.antenna.gain_dbi == pytest.approx(8.15)
    assert repeater.duplexer_loss_db == 1.2 and repeater.local_noise_db == 3.0
    assert repeater.noise is NoiseEnvironment.RURAL
    assert repeater.backup is not None and repeater.backup.battery_ah == 100.0
    assert repeater.desensitising_db == 2.0
    assert repeater.assumed == () and repeater.unsaid == () and repeater.land is Land.OPEN
    assert read.surface is Surface.BARE
    station = read.station("qk3abc")
    assert station.antenna.height_m == pytest.approx(9.144)
    assert "power 25 W (base default in net.toml)" in station.assumed
    assert read.warnings == ()


def test_offset_gives_the_input(folder: Path) -> None:
    (repeater,) = net(folder, CHANNEL + REPEATER).repeaters
    assert repeater.input_mhz == pytest.approx(146.34, abs=1e-9)
    assert "duplexer loss 1.5 dB per path (repeater default)" in repeater.assumed
    (repeater,) = net(folder, CHANNEL + REPEATER.replace("offset_mhz = -0.6", "offset_khz = 600")).repeaters
    assert repeater.input_mhz == pytest.approx(147.54, abs=1e-9)


def test_faults_of_both_files_come_at_once_with_their_rows(folder: Path) -> None:
    (folder / "roster.csv").write_text(ROSTER.replace("mobile", "boat"), encoding="utf-8")
    found = faults(
        folder,
        """[net]
region = 4
k_factor = "nan"
[[channels]]
frequency_mhz = 7.1
[[repeaters]]
call_sign = "QK3RPT/R"
latitude = 41.4
output_mhz = "a"
power_w = 0
[[repeaters]]
call_sign = "QK3RPU/R"
latitude = 41.4
longitude = -38.1
output_mhz = 146.94
[schedule]
weekday = "noday"
[planning]
relay_readability = 9
control_candidates = "QK3ABC"
""",
    )
    assert [line.partition(":")[0] for line in found] == [
        "net.toml, row 2, net.region",
        "net.toml, row 3, net.k_factor",
        "net.toml, row 5, channels[1].frequency_mhz",
        "net.toml, row 6, repeaters[1].longitude",
        "net.toml, row 9, repeaters[1].output_mhz",
        "net.toml, row 10, repeaters[1].power_w",
        "net.toml, row 11, repeaters[2]",
        "net.toml, row 16, schedule.start",
        "net.toml, row 17, schedule.weekday",
        "net.toml, row 19, planning.relay_readability",
        "net.toml, row 20, planning.control_candidates",
        "roster.csv, row 3, column category",
    ]


@pytest.mark.parametrize(
    ("toml", "words"),
    [
        ("", "net.toml: there is no simplex channel; add [[channels]]"),
        ("[net\n", "net.toml, row 1: is not TOML here"),
        (CHANNEL + "name = 'x\n", "net.toml, row 3: is not TOML here"),
        (CHANNEL + "a = 1\na = 2\n", "is not TOML here: cannot overwrite a value"),
        ("x = " + "[" * 5000, "net.toml"),
        (CHANNEL + "[schedule]\nfirst_date = 2026-02-30\n", "net.toml"),
        ("channels = 3\n", "channels: is not a list of tables; write [[channels]] in double brackets"),
        ("[channels]\nfrequency_mhz = 146.5\n", "write [[channels]] in double brackets"),
        (CHANNEL + CHANNEL, "there are two channels called"),
        (CHANNEL + REPEATER + REPEATER, "there are two repeaters called QK3RPT/R"),
        (CHANNEL + REPEATER.replace("QK3RPT/R", "QK3ABC"), "QK3ABC is a member of the roster too"),
        (CHANNEL + REPEATER.replace("-0.6", "0"), "input and output are the same frequency"),
        (CHANNEL + REPEATER + "input_mhz = 147.0\n", "contradicts the input frequency"),
        (CHANNEL + REPEATER.replace("offset_mhz = -0.6", ""), "neither input nor offset is given"),
        (
            CHANNEL + REPEATER.replace("offset_mhz = -0.6", "offset = -0.6"),
            "has no unit; write -0.6 MHz or -600 kHz",
        ),
        (CHANNEL + REPEATER + "power_w = nan\n", '"nan" is not a power'),
        (CHANNEL + REPEATER + "power_w = inf\n", '"inf" is not a power'),
        (CHANNEL + REPEATER + "power_w = [50]\n", "is a list, table or date where one value belongs"),
        (CHANNEL + REPEATER + "power_w = 50\npower_dbm = 47\n", "power_dbm: says the same as power_w"),
        (
            CHANNEL
            + REPEATER.replace("longitude = -38.2", "").replace("latitude = 41.4", 'locator = "HN01"'),
            "too coarse",
        ),
        (CHANNEL + "[net]\nnoise = 'loud'\n", '"loud" is not a noise environment'),
        (CHANNEL + "[terrain]\nfolders = [1]\n", 'is not a list of folders; write folders = ["terrain"]'),
        (CHANNEL + '[terrain]\nfolders = ["a\\u0000b"]\n', "is not the name of a folder"),
        (CHANNEL + "[terrain]\nland_cover = 'none.tif'\n", 'there is no file "none.tif"'),
        (CHANNEL + "[terrain]\nelevation_unit = 'cubits'\n", '"cubits" is not an elevation unit'),
        (
            CHANNEL + "[defaults.boat]\npower_w = 5\n",
            "defaults.boat: is not a category; write one of: base, mobile",
        ),
        (CHANNEL + "[defaults.base]\npower_w = -5\n", "row 4, defaults.base.power_w"),
        (
            CHANNEL + "[planning]\ncontrol_candidates = ['QK3ABX']\n",
            '"QK3ABX" is not in the roster; did you mean QK3AB',
        ),
        (CHANNEL.replace("146.52", "true"), '"yes" is not a frequency'),
        ("net = 3\n" + CHANNEL, "net: is a value where a table belongs"),
    ],
)
def test_refused_settings(folder: Path, toml: str, words: str) -> None:
    found = faults(folder, toml)
    assert any(words in line for line in found), found


def test_unknown_keys_and_tables_warn(folder: Path) -> None:
    read = net(folder, CHANNEL + "frequncy = 3\n[plannning]\nx = 1\n[script]\nanything = 'goes'\n")
    assert read.warnings == (
        "net.toml, plannning is not a table known here and is ignored; did you mean [planning]?",
        "net.toml, channels[1].frequncy is not a name known here and is ignored; did you mean frequency?",
    )


def test_names_of_keys_and_columns_reach_no_terminal_as_commands(folder: Path) -> None:
    read = net(folder, CHANNEL + '"zz\\u001b[31m" = 3\n["pl\\u001b"]\n')
    assert len(read.warnings) == 2 and not any("\x1b" in text for text in read.warnings)
    found = faults(folder, '[[channels]]\n"\\u001bfrequency_mhz" = "x"\n[defaults."a\\u001b"]\n')
    assert len(found) == 2 and not any("\x1b" in line for line in found)
    (folder / "roster.csv").write_text(ROSTER.replace("category", "\x1bcategory", 1).replace("base", "b"))
    found = faults(folder, CHANNEL)
    assert len(found) == 1 and "\x1b" not in found[0]


def test_what_concerns_one_repeater_or_member_stands_in_its_own_record(folder: Path) -> None:
    rows = "QK3XYZ,Xyz,41.20,61.90,base\nQK3XYA,Xya,41.21,-38.11,base\nQK3XYB,Xyb,41.22,-38.12,base\n"
    (folder / "roster.csv").write_text(
        f"call_sign,name,latitude,longitude,category\n{rows}QK3XYC,Xyc,41.2,-38.1,base\n",
        encoding="utf-8",
    )
    read = net(folder, "[net]\nregion = 1\n" + CHANNEL + REPEATER)
    assert read.warnings == ()
    assert "row 2, QK3XYZ: " in read.station("QK3XYZ").warnings[0]
    assert [s.warnings for s in read.stations if s.call_sign != "QK3XYZ"] == [()] * (len(read.stations) - 1)


@pytest.mark.parametrize(("typed", "deviation_khz"), [("", 5.0), ("deviation_khz = 2.5\n", 2.5)])
def test_a_repeater_has_a_deviation(folder: Path, typed: str, deviation_khz: float) -> None:
    assert net(folder, CHANNEL + REPEATER + typed).repeaters[0].deviation_khz == deviation_khz


def test_deviations_nobody_uses_are_refused(folder: Path) -> None:
    found = faults(folder, CHANNEL + "deviation_khz = 4\n" + REPEATER + "deviation = '3 kHz'\n")
    assert ['"4"' in found[0], '"3 kHz"' in found[1], len(found)] == [True, True, 2]
    assert all("write 5 for 20 or 25 kHz channels, 2.5 for 12.5 kHz channels" in line for line in found)


def test_missing_folder_and_files(tmp_path: Path) -> None:
    with pytest.raises(InputProblem, match=r"there is no folder .*nowhere; `reach new FOLDER`"):
        read_net(tmp_path / "nowhere")
    with pytest.raises(InputProblem, match=r"net\.toml: there is no such file"):
        read_net(tmp_path)
    (tmp_path / "net.toml").write_text(CHANNEL, encoding="utf-8")
    with pytest.raises(InputProblem, match=r"roster\.csv: there is no such file"):
        read_net(tmp_path)


def test_a_flood_of_faults_is_cut_short(folder: Path) -> None:
    rows = "".join(f"QK3{n}A,99,200,boat\n" for n in range(2000))
    (folder / "roster.csv").write_text("call_sign,latitude,longitude,category\n" + rows, encoding="utf-8")
    found = faults(folder, CHANNEL)
    assert len(found) == 101
    assert "and 5900 more faults" in found[-1] or "more faults" in found[-1]


def test_windows_line_ends_and_mark(folder: Path) -> None:
    text = "\ufeff" + (CHANNEL + REPEATER).replace("\n", "\r\n")
    (folder / "net.toml").write_bytes(text.encode("utf-8"))
    assert len(read_net(folder).repeaters) == 1


VALUES = st.one_of(
    st.text(max_size=10), st.integers(), st.floats(), st.booleans(), st.lists(st.integers(), max_size=2)
)
KEYS = st.sampled_from(
    [
        *(
            "name",
            "call_sign",
            "frequency_mhz",
            "output_mhz",
            "offset",
            "power_w",
            "locator",
            "backup",
            "model",
        ),
        *("every", "folders", "clutter_heights_m", "region", "weekday", "start", "control_candidates", "zzz"),
    ]
)


def as_toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        escaped = "".join(f"\\U{ord(c):08x}" for c in value)
        return f'"{escaped}"'
    if isinstance(value, list):
        return "[" + ", ".join(as_toml(item) for item in value) + "]"
    return str(value)


@settings(deadline=None, max_examples=150)
@given(
    tables=st.lists(
        st.tuples(
            st.sampled_from(
                [
                    "[net]",
                    "[terrain]",
                    "[[channels]]",
                    "[[repeaters]]",
                    "[defaults.base]",
                    "[planning]",
                    "[schedule]",
                ]
            ),
            st.dictionaries(KEYS, VALUES, max_size=5),
        ),
        max_size=4,
        unique_by=lambda table: table[0],
    )
)
def test_any_tables_are_read_or_refused(tmp_path_factory: pytest.TempPathFactory, tables) -> None:  # type: ignore[no-untyped-def]
    folder = tmp_path_factory.mktemp("net")
    (folder / "roster.csv").write_text(ROSTER, encoding="utf-8")
    lines = [
        line for head, keys in tables for line in (head, *(f"{k} = {as_toml(v)}" for k, v in keys.items()))
    ]
    try:
        net(folder, "\n".join(lines))
    except InputProblem as problem:
        assert problem.faults


@settings(deadline=None, max_examples=100)
@given(text=st.text(max_size=200))
def test_any_text_is_read_or_refused(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    folder = tmp_path_factory.mktemp("net")
    try:
        (folder / "net.toml").write_bytes(text.encode("utf-8", "surrogatepass"))
        read_net(folder)
    except InputProblem as problem:
        assert problem.faults


def test_an_unknown_surface_is_refused(folder: Path) -> None:
    with pytest.raises(InputProblem, match=r"\"moss\" is not a surface; write one of: typical, bare"):
        net(folder, CHANNEL + '[terrain]\nsurface = "moss"\n')
    assert net(folder, CHANNEL).surface is Surface.TYPICAL
