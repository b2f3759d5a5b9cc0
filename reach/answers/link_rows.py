"""Links as rows for machines, one a direction, units in the headings."""

from __future__ import annotations

import math

from reach.answers.sheet import Cell, Sheet
from reach.links.network import DirectedLink, RepeaterNetwork, SimplexNetwork
from reach.links.outcome import RepeaterOutcome, repeater_outcome
from reach.links.s_meter import s_reading
from reach.units import dbm_to_microvolts

_LINK_COLUMNS = (
    "frequency_mhz",
    "distance_km",
    "bearing_from_talker_deg",
    "bearing_from_listener_deg",
    "path_loss_db",
    "received_dbm",
    "received_uv",
    "s_meter",
    "margin_over_workable_db",
    "chance",
    "grade",
    "readability",
    "line_of_sight",
    "fresnel_clearance",
)


def _link_cells(link: DirectedLink, back: DirectedLink) -> tuple[Cell, ...]:
    """One direction; back : the other one of the same pair, for the bearing at its end."""
    return (
        link.frequency_mhz,
        link.distance_m / 1000.0,
        link.bearing_deg,
        back.bearing_deg,
        link.path_loss_db,
        link.received_dbm,
        float(dbm_to_microvolts(link.received_dbm)),
        s_reading(link.received_dbm, frequency_mhz=link.frequency_mhz),
        link.margin_db,
        link.chance,
        link.grade.word,
        link.grade.readability,
        link.line_of_sight,
        link.fresnel_clearance,
    )


def simplex_rows(network: SimplexNetwork) -> Sheet:
    """One row a direction: `station` hears `talker`. Pairs without a radio path are left out."""
    rows = []
    for rx in network.call_signs:
        for tx in network.call_signs:
            if tx != rx:
                link = network.link(tx, rx)
                if math.isfinite(link.margin_db):
                    rows.append((rx, tx, *_link_cells(link, network.link(rx, tx))))
    return Sheet(("station", "hears", *_LINK_COLUMNS), tuple(rows))


def path_rows(there: DirectedLink, back: DirectedLink) -> Sheet:
    """Two rows, one a direction: `station` hears `talker`."""
    rows = tuple(
        (link.rx, link.tx, *_link_cells(link, other)) for link, other in ((there, back), (back, there))
    )
    return Sheet(("station", "hears", *_LINK_COLUMNS), rows)


def repeater_rows(network: RepeaterNetwork) -> Sheet:
    """One row a member: outcome, then both directions. Members without a radio path come last."""
    outcomes = {
        RepeaterOutcome.GETS_IN_AND_HEARS: "gets in and hears",
        RepeaterOutcome.HEARS_ONLY: "hears only",
        RepeaterOutcome.GETS_IN_ONLY: "gets in only",
        RepeaterOutcome.NEITHER: "neither",
    }
    columns = (
        "station",
        "repeater",
        "outcome",
        *(f"talk_in_{name}" for name in _LINK_COLUMNS),
        *(f"talk_out_{name}" for name in _LINK_COLUMNS),
    )
    rows: list[tuple[Cell, ...]] = [
        (
            member.call_sign,
            network.repeater.call_sign,
            outcomes[repeater_outcome(member)],
            *_link_cells(member.talk_in, member.talk_out),
            *_link_cells(member.talk_out, member.talk_in),
        )
        for member in network.members
    ]
    blanks: tuple[Cell, ...] = (None,) * (2 * len(_LINK_COLUMNS))
    rows += [(call, network.repeater.call_sign, "no radio path", *blanks) for call in network.no_radio]
    return Sheet(columns, tuple(rows))
