"""Who came to the nets, how often and through whom, who is to be expected, and who led against the rota."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass

from reach.answers.coming import nets_meeting
from reach.answers.open_net import OpenNet
from reach.answers.record import Answer
from reach.answers.rules import AS_WRITTEN, chosen_rules
from reach.answers.sheet import Sheet
from reach.answers.surveys import simplex_paths
from reach.answers.turns import club_turns, fit_for_nets
from reach.errors import InputProblem, NoPlan
from reach.inputs.net_folder import NetFolder
from reach.learning.attendance import WEIGHT_NETS, Attendance, Attending
from reach.lists import counted, named
from reach.machinery.progress import Watch, unwatched
from reach.plans.relays.net_control import rank_controls
from reach.plans.relays.rota import net_dates, net_number, rota

REMIND_AFTER_NETS = 3  # a member who usually comes and missed so many in a row is worth a call (judgement)
_MOST_NAMED = 8


@dataclass(frozen=True)
class Led:
    """Who led a net. by_rota : whose turn it was, '' where no rota says."""

    day: datetime.date
    control: str
    by_rota: str


@dataclass(frozen=True)
class AttendanceFigures:
    """The same for machines."""

    headline: str
    nets: tuple[datetime.date, ...]
    club_share: float
    members: tuple[Attending, ...]
    visitors: tuple[Attending, ...]
    led: tuple[Led, ...]


@dataclass(frozen=True, kw_only=True)
class AttendanceAnswer(Answer):
    """came : who came when. remind : members who usually come and missed the last nets. led : net by net."""

    came: Attendance
    remind: tuple[str, ...]
    led: tuple[Led, ...]

    @property
    def figures(self) -> AttendanceFigures:
        """As Answer.figures."""
        came = self.came
        return AttendanceFigures(
            self.headline, came.nets, came.club_share, came.members, came.visitors, self.led
        )


def who_attends(opened: OpenNet, *, watch: Watch = unwatched) -> AttendanceAnswer:
    """From the standing reports of every channel and repeater, or those of one of a club's nets where the
    folder is for one. Raises : MissingTerrain, OutOfRange."""
    came = opened.came
    remind = tuple(one.call_sign for one in came.members if _worth_a_call(one, came))
    return AttendanceAnswer(
        net=opened.net,
        headline=_headline(came, opened.folder),
        assumed=(),
        in_short=(),
        warnings=(*opened.warnings, *_not_told_apart(came, opened.folder)),
        rows=_rows(opened, came),
        came=came,
        remind=remind,
        led=tuple(_led(opened, came, watch)),
    )


def _headline(came: Attendance, folder: NetFolder) -> str:
    meeting = folder.meeting
    if not came.nets:
        what = f"evening of {meeting.name}" if meeting else "net"
        return f"No {what} is noted yet: close one at the desk, or take in a list with `reach report`."
    expected = sum(one.expected for one in came.members)
    members = sum(bool(one.came) for one in came.members)
    visitors = f", and {counted(len(came.visitors), 'visitor')}" if came.visitors else ""
    return (
        f"{members} of {counted(len(came.members), 'member')}{visitors} came to "
        f"{_evenings(came, folder)}; expect {expected:.0f} members at the next."
    )


def _evenings(came: Attendance, folder: NetFolder) -> str:
    """'8 nets', or '8 evenings of Tuesday net'."""
    if folder.meeting is None:
        return counted(len(came.nets), "net")
    return f"{counted(len(came.nets), 'evening')} of {folder.meeting.name}"


def _not_told_apart(came: Attendance, folder: NetFolder) -> tuple[str, ...]:
    """That a club's nets are counted together, or evenings on which another met in the same place."""
    if not folder.nets or not came.nets:
        return ()
    if folder.meeting is None:
        return ("All the club's nets are counted together; --net NAME takes one of them.",)
    here = folder.meeting
    mixed = sum(
        any(set(other.places) & set(here.places) for other in nets_meeting(folder.nets, day) if other != here)
        for day in came.nets
    )
    if not mixed:
        return ()
    return (
        f"On {counted(mixed, 'evening')} another net met in the same place: who came is counted for both.",
    )


def _worth_a_call(one: Attending, came: Attendance) -> bool:
    """Came to at least half of the nets before, to none of the last ones."""
    last = came.nets[-REMIND_AFTER_NETS:]
    before = came.nets[:-REMIND_AFTER_NETS]
    if not before or set(one.came) & set(last):
        return False
    return 2 * len(one.came) >= len(before)


def _led(opened: OpenNet, came: Attendance, watch: Watch) -> Iterator[Led]:
    turns = _turns(opened, came, watch) if came.controls else {}
    for day, control in came.controls.items():
        yield Led(day, control, turns.get(day, ""))


def _turns(opened: OpenNet, came: Attendance, watch: Watch) -> dict[datetime.date, str]:
    """Evening -> whose turn it was by the rota of today's ranking."""
    if opened.folder.nets:
        return _club_turns(opened, came, watch)
    schedule = opened.folder.schedule
    if schedule is None:
        return {}
    network = simplex_paths(opened, opened.net.channels[0], watch=watch)
    try:
        ranked = rank_controls(network, chosen_rules(opened.folder, AS_WRITTEN))
    except NoPlan:
        return {}
    found = {}
    for day in came.controls:
        start = net_dates(schedule, start=day, count=1)[0]
        if start.date() == day:
            (turn,) = rota(ranked, [start], first=net_number(schedule, day))
            found[day] = turn.control
    return found


def _club_turns(opened: OpenNet, came: Attendance, watch: Watch) -> dict[datetime.date, str]:
    """The same of a club with several nets; of two on one day, that of the net whose turn was kept."""
    found: dict[datetime.date, str] = {}
    days = sorted(came.controls)
    try:
        fit = fit_for_nets(opened, watch=watch)
        turns = club_turns(opened.folder.nets, fit, start=days[0], until=days[-1])
    except (NoPlan, InputProblem):  # nobody willing, or no net in that time: no rota says whose turn it was
        return {}
    meeting = opened.folder.meeting
    for one in turns:
        day = one.turn.start.date()
        if meeting is not None and one.net != meeting.name:
            continue
        if day in came.controls and found.get(day) != came.controls[day]:
            found[day] = one.turn.control
    return found


def _rows(opened: OpenNet, came: Attendance) -> Sheet:
    names = opened.learned.net.names
    columns = ("station", "name", "member", "came", "nets", "last", "expected", "through")
    members = sorted(came.members, key=lambda one: (-one.expected, one.call_sign))
    return Sheet(
        columns,
        tuple(
            (
                one.call_sign,
                names.get(one.call_sign, ""),
                one.call_sign in names,
                len(one.came),
                len(came.nets),
                one.last.isoformat() if one.last else "",
                one.expected,
                " ".join(f"{relay} {count}" for relay, count in one.through.items()),
            )
            for one in (*members, *came.visitors)
        ),
    )


def attendance_notes(found: AttendanceAnswer) -> tuple[str, ...]:
    """Whom to remind, who led out of turn, and how the expectation is made."""
    notes = []
    if found.remind:
        notes.append(
            f"Worth a call, as they usually come and missed the last {REMIND_AFTER_NETS}: "
            f"{named(found.remind, most=_MOST_NAMED)}."
        )
    other = [one for one in found.led if one.by_rota and one.control != one.by_rota]
    if other:
        said = [f"{one.day.isoformat()} {one.control} for {one.by_rota}" for one in other]
        notes.append(f"Led in place of the one whose turn it was: {named(said, most=_MOST_NAMED)}.")
    if found.came.nets:
        notes.append(
            "Expected is each one's own share of the nets, drawn towards what the roster says or the club's "
            f"{100 * found.came.club_share:.0f} %, which weigh as much as {WEIGHT_NETS:g} nets. Plans count "
            "it in the check-ins they expect."
        )
    return tuple(notes)
