"""Who may come tonight, for the entry line, and who a station is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from reach.answers.evening_plan import EveningNet
from reach.answers.open_net import OpenNet
from reach.evening.check_ins import CheckIn, check_in_of
from reach.evening.fold import Evening
from reach.inputs.reports import Outcome, Report
from reach.learning.attendance import Attendance
from reach.learning.evidence import evening_of
from reach.links.sayings import chance_in_words
from reach.reports.store import standing
from reach.stations import Channel, Net, Station
from reach.units import metres_in_words, power_in_words


@dataclass(frozen=True)
class LikelyOne:
    """A member, or a visitor of earlier nets. comes : chance that it is there. kind : how it checks in."""

    call_sign: str
    name: str
    kind: CheckIn
    comes: float
    member: bool


@dataclass(frozen=True)
class WhoIs:
    """What is known of a station. lines : (heading, text), only those there is something to say of."""

    call_sign: str
    name: str
    lines: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]


def names_of(evening: Evening, net: Net) -> Mapping[str, str]:
    """Call sign -> name, of members and of those named tonight."""
    return net.names | dict(evening.names)


def likely_ones(opened: OpenNet, came: Attendance) -> tuple[LikelyOne, ...]:
    """Members, then visitors, those who usually come first."""
    expected = {one.call_sign: one.expected for one in came.members}
    members = [
        LikelyOne(
            one.call_sign, one.name, check_in_of(one), expected.get(one.call_sign, came.club_share), True
        )
        for one in opened.net.stations
    ]
    visitors = [LikelyOne(one.call_sign, "", CheckIn.BASE, one.expected, False) for one in came.visitors]
    return tuple(sorted((*members, *visitors), key=lambda one: (not one.member, -one.comes, one.call_sign)))


def who_is(opened: OpenNet, tonight: EveningNet | None, evening: Evening, call_sign: str) -> WhoIs:
    """What is known of a station: member, visitor or stranger.

    tonight : None while the net is being surveyed.
    """
    reports = [stored.report for stored in standing(opened.learned.all_reports)]
    lines: list[tuple[str, str]] = []
    station = next((one for one in opened.net.stations if one.call_sign == call_sign), None)
    if station is None:
        lines.append(("Not in the roster", "a visitor"))
    else:
        lines += _equipment(station)
        if tonight is not None and evening.sitting is not None:
            lines += _predicted(tonight, station, evening.sitting.control)
    lines += _heard(reports, call_sign)
    lines += _last_came(opened, reports, call_sign)
    name = names_of(evening, opened.net).get(call_sign, "")
    return WhoIs(call_sign, name, tuple(lines), evening.notes.get(call_sign, ()))


def _equipment(station: Station) -> list[tuple[str, str]]:
    antenna = station.antenna.kind or f"{station.antenna.gain_dbi:.1f} dBi"
    lines = []
    if station.position.is_known:
        where = station.position.written or (
            f"{station.position.latitude_deg:.4f}, {station.position.longitude_deg:.4f}"
        )
        lines.append(("Where", where))
    if station.has_radio_path:
        power = power_in_words(station.transmit_power_dbm)
        height = metres_in_words(round(station.antenna.height_m, 1))
        text = f"{station.category.value}, {power}, {antenna} at {height}"
        lines.append(("Station", text))
        lines.append(("Power", station.backup.words if station.backup else "mains only"))
    else:
        lines.append(("Station", "linked over the internet, no radio path"))
    may = [
        word
        for word, yes in (("net control", station.willing_control), ("relay", station.willing_relay))
        if yes
    ]
    if may:
        lines.append(("Willing as", " and ".join(may)))
    return lines


def _predicted(tonight: EveningNet, station: Station, control: str) -> list[tuple[str, str]]:
    if not station.has_radio_path:
        return []
    lines = []
    graph = tonight.graph
    if isinstance(tonight.on, Channel):
        if control in graph.call_signs and station.call_sign != control:
            one, other = graph.index(station.call_sign), graph.index(control)
            lines.append((f"{control} hears it", chance_in_words(float(graph.chance[one, other]))))
            lines.append((f"It hears {control}", chance_in_words(float(graph.chance[other, one]))))
    else:
        member = tonight.survey.repeater(tonight.on.call_sign).member(station.call_sign)
        lines.append((f"Gets into {tonight.on.call_sign}", chance_in_words(member.talk_in.chance)))
        lines.append((f"Hears {tonight.on.call_sign}", chance_in_words(member.talk_out.chance)))
    return lines


def _heard(reports: Sequence[Report], call_sign: str) -> list[tuple[str, str]]:
    """How often it was heard and not, of all reports that say so."""
    heard = sum(one.sender == call_sign and one.outcome is Outcome.HEARD for one in reports)
    missed = sum(one.sender == call_sign and one.outcome is Outcome.NOT_HEARD for one in reports)
    if not heard and not missed:
        return []
    return [("Reports so far", f"heard {heard} times, not heard {missed}")]


def _last_came(opened: OpenNet, reports: Sequence[Report], call_sign: str) -> list[tuple[str, str]]:
    own = [one for one in reports if one.sender == call_sign and one.outcome is Outcome.HEARD]
    if not own:
        return []
    last = max(own, key=lambda one: one.at)
    day = evening_of(last.at, opened.learned.zone)
    through = f" through {last.via}" if last.via else ""
    readability = f", R{last.readability}" if last.readability else ""
    return [("Last came", f"{day:%a %Y-%m-%d} on {last.on}{through}{readability}")]
