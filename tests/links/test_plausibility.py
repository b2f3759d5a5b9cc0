"""What is most likely a slip is said; what clubs really have is not."""

from __future__ import annotations

import pytest

from reach.inputs.roster import parse_roster
from reach.links.plausibility import unlikely_equipment
from reach.notes import texts
from reach.stations import Channel, Net


def said(row: str) -> str:
    heading = "call_sign,category,latitude,longitude,antenna height m,power W,antenna,feed line"
    stations = parse_roster(f"{heading}\n{row}\n").stations
    net = Net("Small net", (Channel("S1", 146.52),), (), stations)
    return " ".join(texts(unlikely_equipment(net)))


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("QK1A,base,41,-38,150,50,,", "150 ft would be 46 m"),
        ("QK1A,mobile,41,-38,6,50,,", "antenna 6 m above ground; 6 ft would be 2 m, for a car?"),
        ("QK1A,base,41,-38,10,5000,,", "5000 W; 5000 mW would be 5 W"),
        ("QK1A,portable,41,-38,1.5,50,handheld whip,", "50 W, for a handheld?"),
        ("QK1A,base,41,-38,10,50,40 dBi,", "an antenna of 40 dBi"),
        ("QK1A,base,41,-38,10,50,,RG-58 150 m", "lost in the feed line"),
    ],
)
def test_slips_are_asked_about(row: str, words: str) -> None:
    assert words in said(row)


@pytest.mark.parametrize(
    "row",
    [
        "QK1A,base,41,-38,30,1500,10-element yagi,LMR-400 40 m",
        "QK1A,mobile,41,-38,2.5,100,mobile five eighths,",
        "QK1A,portable,41,-38,10,20,roll-up j-pole,",
        "QK1A,portable,41,-38,1.5,8,handheld whip,",
        "QK1A,internet,41,-38,,,,",
    ],
)
def test_what_members_have_is_left_alone(row: str) -> None:
    assert said(row) == ""
