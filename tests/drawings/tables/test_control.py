"""The rota as a table."""

from __future__ import annotations

import datetime

from reach.drawings.tables.control import rota_table
from reach.drawings.tables.terminal import terminal_text
from reach.plans.relays.rota import Turn

ZONE = datetime.timezone(datetime.timedelta(hours=-2), "XT")
TURNS = (
    Turn(datetime.datetime(2026, 12, 1, 19, 30, tzinfo=ZONE), "QK1ABC", "QK2DEF"),
    Turn(datetime.datetime(2026, 12, 8, 19, 30, tzinfo=ZONE), "QK2DEF", ""),
)


def test_a_rota_gives_local_dates_names_and_who_stands_in() -> None:
    first, second = terminal_text(rota_table(TURNS, {"QK1ABC": "Ann"}), width=100).splitlines()[-2:]
    assert first.split() == ["Tue", "2026-12-01", "19:30", "XT", "QK1ABC", "(Ann)", "QK2DEF"]
    assert second.endswith("nobody else is fit")
