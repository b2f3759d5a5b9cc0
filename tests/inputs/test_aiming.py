"""Beams that point at someone, in a whole folder and in a roster alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from reach.errors import InputProblem
from reach.inputs.bands import works_on
from reach.inputs.club import read_net
from reach.inputs.roster import RosterRules, parse_roster
from reach.links.doubts import keepers_questions, net_doubts
from reach.stations import Aim, Net

NET = """
[[channels]]
frequency_mhz = 146.52
[[channels]]
frequency_mhz = 446.0
[[repeaters]]
call_sign = "QK3RPT"
latitude = 41.4
longitude = -38.0
output_mhz = 146.94
offset_mhz = -0.6
"""
HEADING = "call sign,category,latitude,longitude,antenna,direction,bands,relay\n"


def net(folder: Path, rows: str, text: str = NET) -> Net:
    (folder / "net.toml").write_text(text, encoding="utf-8")
    (folder / "roster.csv").write_text(HEADING + rows, encoding="utf-8")
    return read_net(folder)


def test_a_beam_finds_whom_it_points_at(tmp_path: Path) -> None:
    read = net(
        tmp_path,
        "QK3AA,base,41.3,-38.0,5-element yagi,qk3rpt,2 m,\n"
        "QK3AB,base,41.3,-37.9,5-element yagi,QK3AA,,\n"
        "QK3AC,base,41.3,-38.2,3-element yagi,HN11ab00,,\n"
        "QK3AD,base,41.35,-38.1,3-element yagi,rotates,,yes\n"
        "QK3AE,base,41.36,-38.1,3-element yagi,,,\n",
        NET.replace('call_sign = "QK3RPT"', 'call_sign = "QK3RPT"\nantenna = "9 dBi"\ndirection = "QK3AA"'),
    )
    beams = {s.call_sign: s.antenna.beam for s in read.stations}
    assert beams["QK3AA"] is not None and beams["QK3AA"].bearing_deg == pytest.approx(
        0.0, abs=0.01
    )  # due north
    assert beams["QK3AB"] is not None and beams["QK3AB"].bearing_deg == pytest.approx(270.0, abs=0.1)
    # HN11ab00 begins at 41 deg 2.5 min N, 38 W: south-east of it
    assert beams["QK3AC"] is not None and 140.0 < beams["QK3AC"].bearing_deg < 160.0
    assert beams["QK3AE"] is not None and beams["QK3AE"].aim is Aim.TURNS
    assert "beam turned to whoever it works (base default)" in read.station("QK3AE").assumed
    (turns,) = read.station("QK3AD").warnings
    assert turns == (
        "roster.csv, row 5, QK3AD: a beam that turns counts towards each station in turn; a call from beside "
        "it may go unheard."
    )
    hub = read.repeaters[0].antenna.beam
    assert hub is not None and hub.bearing_deg == pytest.approx(180.0, abs=0.01)


def test_beams_nobody_can_aim_are_told_with_their_row(tmp_path: Path) -> None:
    with pytest.raises(InputProblem) as refused:
        net(
            tmp_path,
            "QK3AA,base,41.3,-38.0,5-element yagi,QK3RBT,,\n"
            "QK3AB,base,41.3,-37.9,5-element yagi,QK3AB,,\n"
            "QK3AC,base,41.3,-37.8,base vertical,90,,\n",
        )
    assert str(refused.value).splitlines() == [
        "roster.csv, row 4, column direction: a base vertical radiates alike on every bearing; "
        "take this out, or name a beam such as 5-element yagi.",
    ]
    with pytest.raises(InputProblem) as refused:
        net(
            tmp_path,
            "QK3AA,base,41.3,-38.0,5-element yagi,QK3RBT,,\nQK3AB,base,41.3,-37.9,5-element yagi,QK3AB,,\n",
        )
    first, second = str(refused.value).splitlines()
    assert first.startswith(
        'roster.csv, row 2, column direction: "QK3RBT" is neither a call sign of this net'
    )
    assert "did you mean QK3RPT?" in first
    assert '"QK3AB" is too close to tell a bearing' in second


def test_what_a_beam_without_direction_counts_as_is_the_users_choice(tmp_path: Path) -> None:
    row = "QK3AA,base,41.3,-38.0,5-element yagi,,,\n"
    read = net(tmp_path, row, '[net]\nbeams = "unknown"\n' + NET)
    beam = read.stations[0].antenna.beam
    assert beam is not None and beam.aim is Aim.ANYWHERE
    with pytest.raises(InputProblem, match=r'net\.beams.*"sideways" does not say how beams count'):
        net(tmp_path, row, '[net]\nbeams = "sideways"\n' + NET)


def test_bands_are_read_and_the_guess_is_said(tmp_path: Path) -> None:
    read = net(tmp_path, "QK3AA,base,41.3,-38.0,j-pole,,2m/70cm,\nQK3AB,handheld,41.31,-38.0,,,2 m,\n"
                         "QK3AC,handheld,41.32,-38.0,,,,\n")  # fmt: skip
    a, b, c = read.stations
    assert a.bands == ("2 m", "70 cm") and b.bands == ("2 m",) and c.bands == ()
    assert [works_on(s, 446.0) for s in (a, b, c)] == [True, False, True]
    assert not works_on(b, 145.0, 433.0) and works_on(b, 146.94, 146.34) and works_on(b, 162.5)
    assert "radios for 2 m, 70 cm (portable default)" in c.assumed
    with pytest.raises(InputProblem, match='row 2, column bands: "20 m" is not a band known here'):
        net(tmp_path, "QK3AA,base,41.3,-38.0,j-pole,,2 m + 20 m,\n")


def test_the_keeper_of_a_repeater_is_asked_for_what_nobody_wrote_down(tmp_path: Path) -> None:
    row = "QK3AA,base,41.3,-38.0,j-pole,,,\n"
    read = net(tmp_path, row)
    (repeater,) = read.repeaters
    assert repeater.desensitising_db == 1.0 and repeater.tone_hz is None
    assert "desensitising 1 dB (repeater default)" in repeater.assumed
    (asked,) = keepers_questions(repeater)
    assert asked in net_doubts(read)
    for words in ("its access tone", "how noisy its site is", "desensitises it"):
        assert words in asked.text
    said = NET + 'tone = "none"\nnoise = "rural"\ndesensitising_db = 0\n'
    (told,) = net(tmp_path, row, said).repeaters
    assert told.unsaid == () and told.tone_hz is None and told.desensitising_db == 0.0
    assert keepers_questions(told) == ()


def test_a_roster_alone_knows_its_own_members() -> None:
    text = HEADING + "QK3AA,base,41.3,-38.0,3-element yagi,QK3AB,,\nQK3AB,base,41.3,-37.0,,,,\n"
    beam = parse_roster(text).stations[0].antenna.beam
    assert beam is not None and beam.bearing_deg == pytest.approx(90.0, abs=0.5)
    with pytest.raises(InputProblem, match="QK9ZZZ"):
        parse_roster(text.replace("QK3AB,,", "QK9ZZZ,,"))
    # where the repeaters cannot be read, nothing is said of whom a beam may mean
    assert parse_roster(text.replace("QK3AB,,", "QK9ZZZ,,"), rules=RosterRules(hubs=None)).stations
