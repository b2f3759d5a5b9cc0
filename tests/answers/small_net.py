"""A small net with a schedule, batteries and net controls of different reach, on the tile of this folder."""

from __future__ import annotations

from pathlib import Path

from tests.answers.conftest import write_net

NET = """
[net]
name = "Small net"

[terrain]
folders = ["terrain"]

[schedule]
weekday = "tuesday"
start = "19:30"

[[channels]]
name = "two metres"
frequency_mhz = 146.52

[[repeaters]]
call_sign = "QK0R"
latitude = 41.37
longitude = -37.95
output_mhz = 146.94
input_mhz = 146.34
antenna_height_m = 20
power_w = 50
"""

# QK1F is far off and weak: willing to be net control, but hearing too little; QK1N has no radio path
ROSTER = """call sign,name,category,latitude,longitude,antenna height m,power W,control,relay,backup
QK1A,Ann,base,41.35,-37.95,12,50,yes,yes,40 Ah
QK1B,Bea,base,41.40,-37.90,12,50,yes,yes,
QK1F,Fay,base,41.27,-37.78,2,0.1,yes,no,
QK1H,Hal,portable,41.36,-37.93,2,5,no,no,8 h
QK1N,Nan,internet,41.36,-37.90,2,5,no,no,
"""


def made_in(folder: Path) -> Path:
    """The net's own folder below this one."""
    made = write_net(folder / "our-net", members=[], settings=NET)
    (made / "roster.csv").write_text(ROSTER, encoding="utf-8")
    return made
