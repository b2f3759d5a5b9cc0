"""How a link is said on every drawing: chance first, then the grade, then decibels for whoever wants them."""

from __future__ import annotations

import math
from collections.abc import Mapping

from reach.inputs.lookup import find_channel, find_repeater
from reach.inputs.nets import ClubNet, MeetsOn
from reach.links.grade import Grade, grade_of
from reach.links.network import DirectedLink
from reach.links.s_meter import s_reading
from reach.links.sayings import chance_in_words, margin_in_words
from reach.propagation.clearance import PathClearance
from reach.stations import Category, Channel, Net
from reach.units import METRES_PER_MILE, metres_in_words, mhz_in_words
from reach.visible import visible

MINUS = "\N{MINUS SIGN}"
NO_VALUE = "\N{EN DASH}"

CATEGORY_LETTERS: dict[Category, str] = {
    Category.BASE: "b",
    Category.MOBILE: "m",
    Category.PORTABLE: "p",
    Category.INTERNET: "i",
}

CATEGORY_WORDS: dict[Category, str] = {
    Category.BASE: "base station",
    Category.MOBILE: "mobile",
    Category.PORTABLE: "portable or handheld",
    Category.INTERNET: "linked over the internet, no radio path",
}


def plain(text: str) -> str:
    """User text for a terminal or a picture: characters that steer instead of show are written out."""
    return visible(text)


def number(value: float, decimals: int = 0) -> str:
    """A number with a true minus sign and no negative zero; NaN and infinity are a dash."""
    if not math.isfinite(value):
        return NO_VALUE
    text = f"{value:.{decimals}f}"
    if not text.strip("-0."):
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def signed(value: float, decimals: int = 0) -> str:
    """A number that always shows its sign, for margins; NaN and infinity are a dash."""
    text = number(value, decimals)
    return text if text.startswith((MINUS, NO_VALUE)) or not text.strip("0.") else f"+{text}"


def frequency_words(channel: Channel) -> str:
    """'146.550 MHz (Simplex 1)'."""
    figure = mhz_in_words(channel.frequency_mhz)
    return f"{figure} ({channel.name})" if channel.name and channel.name not in figure else figure


def who_words(call_sign: str, names: Mapping[str, str]) -> str:
    """'QK3ABC (Ann)', or the call sign alone where no name is known. names : call sign -> name."""
    name = names.get(call_sign, "")
    return f"{call_sign} ({name})" if name else call_sign


def grade_words(grade: Grade) -> str:
    """'R4 solid'."""
    return f"R{grade.readability} {grade.word}"


def link_words(link: DirectedLink) -> str:
    """All of one direction but its two names; see `quality_words`."""
    return quality_words(
        margin_db=link.margin_db,
        chance=link.chance,
        received_dbm=link.received_dbm,
        frequency_mhz=link.frequency_mhz,
    )


def quality_words(*, margin_db: float, chance: float, received_dbm: float, frequency_mhz: float) -> str:
    """Chance, grade, margin, signal in dBm and S-units of one direction, or 'no radio path'."""
    if not math.isfinite(margin_db):
        return "no radio path"
    reading = s_reading(received_dbm, frequency_mhz=frequency_mhz)
    return (
        f"{chance_in_words(chance)} · {grade_words(grade_of(margin_db))} · {margin_in_words(margin_db)}"
        f" · {number(received_dbm)} dBm ({reading})"
    )


def height_words(height_m: float) -> str:
    """'8 m', '1.5 m', '12.2 m': to a tenth, the same wherever a height is said."""
    return metres_in_words(round(height_m, 1))


def distance_words(distance_m: float) -> str:
    """Kilometres, then miles, one decimal each."""
    return f"{distance_m / 1000.0:.1f} km ({distance_m / METRES_PER_MILE:.1f} mi)"


def clearance_words(*, line_of_sight: bool, fresnel_clearance: float) -> str:
    """Line of sight, and the share of the first Fresnel zone's radius that is clear at the worst point."""
    if not math.isfinite(fresnel_clearance):
        return "in line of sight" if line_of_sight else "no line of sight"
    share = number(abs(fresnel_clearance) * 100.0)
    if not line_of_sight and fresnel_clearance < -1.0:
        radii = number(-fresnel_clearance, 1)
        return f"no line of sight: the worst point stands {radii} first Fresnel radii above it"
    if not line_of_sight:
        return f"no line of sight: the worst point stands {share} % of a first Fresnel radius above it"
    short = "" if fresnel_clearance >= 0.6 else ", less than the 60 % wanted"
    return f"in line of sight; {share} % of the first Fresnel radius clear at the worst point{short}"


def worst_point_words(clearance: PathClearance, *, start: str) -> str:
    """Where the path is least clear, from the end called `start`; empty with nothing between the ends."""
    if not math.isfinite(clearance.worst_share):
        return ""
    height_m = abs(clearance.obstruction_m)
    where = "above" if clearance.obstruction_m > 0.0 else "below"
    return (
        f"Worst point: {distance_words(clearance.worst_distance_m)} from {start}, {height_m:.0f} m {where} "
        f"the sight line; the first Fresnel radius there is {clearance.worst_fresnel_m:.0f} m."
    )


def microvolt_figure(level_uv: float) -> str:
    """A level at a receiver as one reads it: hundredths when weak, no digits nobody knows when strong."""
    digits = 2 if level_uv < 10.0 else 0
    return f"{level_uv:,.{digits}f}" if level_uv < 1000.0 else f"{float(f'{level_uv:.3g}'):,.0f}"


def meeting_words(net: Net, meeting: ClubNet) -> str:
    """Where a net meets, e.g. "QK3RPT/R, then 146.52 MHz"."""
    channel = frequency_words(find_channel(net, meeting.channel))
    if meeting.on is MeetsOn.SIMPLEX:
        return channel
    hub = find_repeater(net, meeting.repeater).call_sign
    return hub if meeting.on is MeetsOn.REPEATER else f"{hub}, then {channel}"
