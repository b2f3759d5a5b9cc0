"""A net folder on the screen: ready or not, what it holds, its members, what was taken, what to look at."""

from __future__ import annotations

from collections import Counter

from rich.console import RenderableType
from rich.table import Table

from reach.answers.check import MOST_NAMED, CheckAnswer
from reach.answers.equipment_rows import backup_words, category_word, own_frequency_mhz, owners
from reach.drawings.style.cautions import SHORT
from reach.drawings.style.words import meeting_words
from reach.drawings.tables.terminal import answer, notes_text, quiet_table
from reach.inputs.locators import locator_of
from reach.inputs.planning import WEEKDAYS
from reach.lists import counted, named
from reach.stations import Repeater, Station
from reach.units import metres_in_words, power_in_words

WIDTH_FOR_ALL = 104  # columns of text from which the table of members is whole


def check_screen(found: CheckAnswer, *, width: int) -> list[RenderableType]:
    """What `reach check` says. width : columns of text."""
    parts: list[RenderableType] = [
        answer(found.headline),
        notes_text([*_members_and_channels(found), *_elevation(found)]),
        notes_text([""]),
        member_table(found, width=width),
    ]
    if width < WIDTH_FOR_ALL:
        parts.append(notes_text(["(a wider window or --csv shows more columns)"]))
    for title, lines in (
        ("Taken where nothing was said:", found.in_short),
        ("Worth a second look:", found.warnings),
    ):
        if lines:
            parts.append(notes_text(["", title, *(f"- {text}" for text in lines)]))
    return [*parts, notes_text(["", SHORT])]


def _members_and_channels(found: CheckAnswer) -> list[str]:
    net = found.net
    counts = Counter(station.category.value for station in net.stations)
    lines = ["Members: " + ", ".join(f"{number} {name}" for name, number in counts.items()) + "."]
    for channel in net.channels:
        lines.append(f"Simplex channel: {channel.name}, {channel.frequency_mhz:.10g} MHz.")
    for repeater in net.repeaters:
        tone = f", tone {repeater.tone_hz:g} Hz" if repeater.tone_hz is not None else ""
        lines.append(
            f"Repeater: {repeater.call_sign}, output {repeater.output_mhz:.10g} MHz, "
            f"input {repeater.input_mhz:.10g} MHz{tone}."
        )
    for one in found.nets:
        when = f"{WEEKDAYS[one.schedule.weekday].capitalize()} {one.schedule.start:%H:%M}"
        lines.append(f"Net: {one.name}, {when}, {meeting_words(net, one)}.")
    return lines


def _elevation(found: CheckAnswer) -> list[str]:
    lines, tiles = [], found.tiles
    if tiles.count:
        size = metres_in_words(round(tiles.finest_m, 1))
        if tiles.coarsest_m > 1.05 * tiles.finest_m:
            size += f" to {metres_in_words(round(tiles.coarsest_m, 1))}"
        lines.append(f"Elevation: {counted(tiles.count, 'tile')}, {size} from point to point.")
    needed = named(found.needed_cells, most=MOST_NAMED) or "none"
    lines.append(f"Elevation cells needed (one degree, by south-west corner): {needed}.")
    if found.elevation_fault:
        lines.append(f"Elevation cannot be read: {found.elevation_fault}")
    elif found.missing_cells:
        lines.append(
            f"Missing, wholly or in part: {named(found.missing_cells, most=MOST_NAMED)}. Put tiles that "
            f"cover them in {', '.join(found.net.terrain_folders)}, or fetch them with `reach tiles`."
        )
    return lines


def member_table(found: CheckAnswer, *, width: int) -> Table:
    """Members and repeaters; the narrower the terminal, the fewer columns."""
    columns = [
        ("station", "left", 0),
        ("category", "left", 0),
        ("height m", "right", 0),
        ("power", "right", 0),
        ("name", "left", 60),
        ("locator", "left", 70),
        ("gain dBi", "right", 80),
        ("feed loss dB", "right", 90),
        ("ground m", "right", 76),
        ("backup", "left", 96),
        ("willing", "left", WIDTH_FOR_ALL),
    ]
    shown = [index for index, (_, _, least) in enumerate(columns) if width >= least]
    rows = [[cells[index] for index in shown] for cells in (_cells(found, o) for o in owners(found.net))]
    return quiet_table("Members and repeaters", [columns[index][:2] for index in shown], rows)


def _cells(found: CheckAnswer, owner: Station | Repeater) -> list[str]:
    frequency_mhz = own_frequency_mhz(owner, found.net)
    on_air = isinstance(owner, Repeater) or owner.has_radio_path
    ground = found.ground_m.get(owner.call_sign)
    return [
        owner.call_sign,
        category_word(owner),
        f"{owner.antenna.height_m:.1f}" if on_air else "",
        power_in_words(owner.transmit_power_dbm) if on_air else "",
        owner.name,
        locator_of(owner.position) if owner.position.is_known else "",
        f"{owner.antenna.gain_dbi_at(frequency_mhz):.1f}" if on_air else "",
        f"{owner.feed_line.loss_db(frequency_mhz):.1f}" if on_air else "",
        f"{ground:.0f}" if ground is not None else ("unknown" if on_air else ""),
        backup_words(owner),
        _willing(owner),
    ]


def _willing(owner: Station | Repeater) -> str:
    if not isinstance(owner, Station):
        return ""
    said = [
        word for word, holds in (("control", owner.willing_control), ("relay", owner.willing_relay)) if holds
    ]
    return ", ".join([*said, "brief"] if owner.brief else said)
