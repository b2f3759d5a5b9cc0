"""The path profile: ground on the bent Earth, sight line, first Fresnel zone, 60 % clearance, worst point."""

from __future__ import annotations

import io
import math
import textwrap
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING, Any

import numpy as np

from reach.answers.path import PathAnswer
from reach.drawings.style.cautions import SHORT
from reach.drawings.style.palette import (
    ACCENT,
    BLUES,
    CLUTTER_FILL,
    FRESNEL_60_LINE,
    FRESNEL_LINE,
    GROUND_FILL,
    GROUND_LINE,
    INK,
    QUIET_INK,
    RULE,
    SIGHT_LINE,
)
from reach.drawings.style.words import clearance_words, distance_words, link_words, number, plain
from reach.errors import Fault, InputProblem
from reach.links.network import DirectedLink
from reach.propagation.clearance import FREE_PATH_SHARE, PathClearance
from reach.propagation.earth import STANDARD_K_FACTOR, earth_bulge_m, effective_radius_km
from reach.propagation.knife_edge import fresnel_radius_m
from reach.terrain.profile import Profile
from reach.units import METRES_PER_FOOT, wavelength_m

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FEET_PER_METRE = 1.0 / METRES_PER_FOOT
MILES_PER_KM = 1.0 / 1.609344


class PictureForm(Enum):
    """File form of a plot."""

    PNG = "png"
    SVG = "svg"
    PDF = "pdf"


def picture_form(file_name: str) -> PictureForm:
    """The form a file name's ending asks for. Raises : InputProblem for any other ending."""
    ending = file_name.rpartition(".")[2].lower()
    try:
        return PictureForm(ending)
    except ValueError:
        raise InputProblem(
            Fault(f'"{file_name}" does not end in a picture form', "end it in .png, .svg or .pdf")
        ) from None


@dataclass(frozen=True)
class PathDrawing:
    """All that a profile plot shows.

    profile : ground from the left station to the right one; *_height_m : antennas above ground.
    there : how the right station hears the left one; back : how the left one hears the right one.
    clearance : of this profile; k_factor : effective-Earth factor it was made with.
    """

    profile: Profile
    left_height_m: float
    right_height_m: float
    there: DirectedLink
    back: DirectedLink
    clearance: PathClearance
    k_factor: float = STANDARD_K_FACTOR

    @property
    def left(self) -> str:
        """Call sign at distance 0."""
        return self.there.tx

    @property
    def right(self) -> str:
        """Call sign at the far end."""
        return self.there.rx


def path_picture(found: PathAnswer, *, form: PictureForm = PictureForm.PNG) -> bytes:
    """The profile of a path with its answer above; see `profile_picture`."""
    study = found.study
    drawing = PathDrawing(
        profile=study.profile,
        left_height_m=study.left.antenna.height_m,
        right_height_m=study.right.antenna.height_m,
        there=study.there,
        back=study.back,
        clearance=study.clearance,
        k_factor=found.net.k_factor,
    )
    return profile_picture(drawing, headline=found.headline, form=form)


def profile_picture(drawing: PathDrawing, *, headline: str, form: PictureForm = PictureForm.PNG) -> bytes:
    """The plot as the bytes of a PNG, SVG or PDF file; the same input gives the same bytes.

    headline : the answer in a sentence, first line of the picture. Text is drawn as it stands: no markup.
    """
    import matplotlib
    from matplotlib.figure import Figure

    settings = {
        "svg.hashsalt": "profile",
        "font.family": "DejaVu Sans",
        "font.size": 10.0,
        "axes.edgecolor": QUIET_INK,
        "text.color": INK,
        "axes.labelcolor": INK,
        "xtick.color": QUIET_INK,
        "ytick.color": QUIET_INK,
    }
    metadata: dict[PictureForm, dict[str, Any]] = {
        PictureForm.PNG: {"Software": None},
        PictureForm.SVG: {"Date": None, "Creator": None},
        PictureForm.PDF: {"CreationDate": None, "Creator": None, "Producer": None},
    }
    with matplotlib.rc_context(settings), warnings.catch_warnings():
        # scripts the font lacks show as boxes; the call sign beside them says who it is
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        figure = Figure(figsize=(11.0, 6.2), dpi=120, layout=None)
        _draw(figure, drawing, headline)
        out = io.BytesIO()
        figure.savefig(out, format=form.value, metadata=metadata[form])
    return out.getvalue()


def _draw(figure: Figure, drawing: PathDrawing, headline: str) -> None:
    there, back = drawing.there, drawing.back
    words = clearance_words(
        line_of_sight=drawing.clearance.line_of_sight, fresnel_clearance=drawing.clearance.worst_share
    )
    channels = dict.fromkeys(f"{link.frequency_mhz:.8g}" for link in (there, back))
    path = f"{distance_words(there.distance_m)} on {' and '.join(channels)} MHz; {words}."
    if drawing.profile.gaps_m:
        path += f" {drawing.profile.gaps_m:.0f} m of the ground was filled across gaps."
    y = 0.975
    y = _write(figure, y, headline, fontsize=13.5, fontweight="bold") - 0.008
    y = _write(figure, y, f"{there.rx} hears {there.tx}: {link_words(there)}", fontsize=10.0)
    y = _write(figure, y, f"{back.rx} hears {back.tx}: {link_words(back)}", fontsize=10.0)
    y = _write(figure, y, path, fontsize=10.0, color=QUIET_INK)
    axes = figure.add_axes((0.075, 0.185, 0.855, max(y - 0.05 - 0.185, 0.3)))
    _draw_path(axes, drawing)
    figure.legend(
        *axes.get_legend_handles_labels(), loc="lower left", bbox_to_anchor=(0.066, 0.06), ncols=7,
        frameon=False, fontsize=9, handlelength=2.2, columnspacing=1.4,
    )  # fmt: skip
    _write(figure, 0.045, SHORT, fontsize=9.0, color=QUIET_INK)


def _write(figure: Figure, y: float, text: str, *, fontsize: float, **look: Any) -> float:
    """Text with its top at y; too long a line is set smaller, then broken. Returns the next line's y."""
    left, widest = 0.016, 0.968
    text = plain(text)
    written = figure.text(left, y, text, parse_math=False, va="top", fontsize=fontsize, **look)
    share = written.get_window_extent().width / (widest * figure.bbox.width)
    if share > 1.0:
        fontsize = max(fontsize / share, 0.88 * fontsize)
        written.set_fontsize(fontsize)
        share = written.get_window_extent().width / (widest * figure.bbox.width)
    if share > 1.0:
        written.set_text("\n".join(textwrap.wrap(text, max(int(len(text) / share) - 2, 20))))
    return y - written.get_window_extent().height / figure.bbox.height - 0.0135


def _draw_path(axes: Axes, drawing: PathDrawing) -> None:
    profile = drawing.profile
    km = profile.distance_m / 1000.0
    length_km = float(km[-1])
    radius_km = effective_radius_km(drawing.k_factor)
    bulge = earth_bulge_m(km, length_km - km, radius_km)
    ground = profile.ground_m + bulge
    clutter = ground + profile.clutter_m
    left = float(profile.ground_m[0]) + drawing.left_height_m
    right = float(profile.ground_m[-1]) + drawing.right_height_m

    fine_km = np.linspace(0.0, length_km, 601)
    fine_sight = left + (right - left) * fine_km / length_km
    radius = np.zeros_like(fine_km)
    inner = slice(1, -1)
    wave_m = wavelength_m(drawing.there.frequency_mhz)
    radius[inner] = fresnel_radius_m(fine_km[inner], length_km - fine_km[inner], wave_m)

    top = max(float((fine_sight + radius).max()), float(clutter.max()), left, right)
    bottom = min(float(ground.min()), float((fine_sight - radius).min()))
    bottom = max(bottom, float(ground.min()) - 0.6 * (top - float(ground.min())))
    span = max(top - bottom, 20.0)
    # room for the notes below and above
    low, high = bottom - 0.17 * span, top + 0.14 * span

    axes.fill_between(
        fine_km,
        fine_sight - radius,
        fine_sight + radius,
        color=BLUES[1],
        lw=0,
        zorder=1,
        label="first Fresnel zone",
    )
    axes.fill_between(km, low, ground, color=GROUND_FILL, lw=0, zorder=2)
    if profile.clutter_m.any():
        axes.fill_between(
            km, ground, clutter, color=CLUTTER_FILL, lw=0, zorder=2.1, label="trees and buildings"
        )
    for side in (-1.0, 1.0):
        axes.plot(
            fine_km,
            fine_sight + side * radius,
            color=FRESNEL_LINE.colour,
            lw=FRESNEL_LINE.weight * 0.8,
            zorder=3,
        )
    axes.plot(
        fine_km, fine_sight - FREE_PATH_SHARE * radius, color=FRESNEL_60_LINE.colour,
        lw=FRESNEL_60_LINE.weight, dashes=FRESNEL_60_LINE.dash, zorder=3, label="60 % of it",
    )  # fmt: skip
    axes.plot(
        [0.0, length_km],
        [left, right],
        color=SIGHT_LINE.colour,
        lw=SIGHT_LINE.weight,
        zorder=4,
        label="sight line",
    )
    axes.plot(km, ground, color=GROUND_LINE, lw=1.1, zorder=2.5, label="ground on the bent Earth")
    sea = earth_bulge_m(fine_km, length_km - fine_km, radius_km)
    if float(sea.max()) > low:
        axes.plot(fine_km, sea, color=QUIET_INK, lw=0.8, dashes=(1.0, 2.5), zorder=2.6, label="sea level")

    _draw_antennas(axes, drawing, left=left, right=right, top=high)
    _draw_worst_point(axes, drawing, left=left, right=right, bottom=low)

    axes.set_xlim(-0.012 * length_km, length_km * 1.012)
    axes.set_ylim(low, high)
    axes.set_xlabel("distance, km")
    axes.set_ylabel(
        f"height above sea level, m\n(ground raised by the Earth's curve, k = {drawing.k_factor:.2f})"
    )
    axes.yaxis.set_label_coords(-0.043, 0.5)
    axes.tick_params(labelsize=9)
    axes.grid(axis="y", color=RULE, lw=0.7, zorder=0)
    axes.set_axisbelow(True)
    for edge in ("top", "right"):
        axes.spines[edge].set_visible(False)
    feet = axes.secondary_yaxis("right", functions=_scale(FEET_PER_METRE))
    floor_m = min(float(profile.ground_m.min()), 0.0)
    feet.yaxis.set_major_formatter(lambda ft, _: f"{ft:,.0f} ft" if ft >= floor_m * FEET_PER_METRE else "")
    axes.yaxis.set_major_formatter(lambda m, _: number(m) if m >= floor_m else "")  # no figures underground
    miles = axes.secondary_xaxis("top", functions=_scale(MILES_PER_KM))
    miles.xaxis.set_major_formatter("{x:g} mi")
    for extra in (feet, miles):
        extra.tick_params(labelsize=8, color=RULE)
        for spine in extra.spines.values():
            spine.set_visible(False)


def _scale(factor: float) -> tuple[Callable[[Any], Any], Callable[[Any], Any]]:
    """Forward and back conversion for a second axis."""
    return (lambda x: x * factor), (lambda y: y / factor)


def _draw_antennas(axes: Axes, drawing: PathDrawing, *, left: float, right: float, top: float) -> None:
    length_km = drawing.profile.length_m / 1000.0
    ends = (
        (0.0, float(drawing.profile.ground_m[0]), left, drawing.left, drawing.left_height_m, "left"),
        (
            length_km,
            float(drawing.profile.ground_m[-1]),
            right,
            drawing.right,
            drawing.right_height_m,
            "right",
        ),
    )
    for x, foot, tip, call, height, side in ends:
        axes.plot([x, x], [foot, tip], color=INK, lw=2.4, solid_capstyle="butt", zorder=5)
        axes.plot([x], [tip], marker="o", ms=5.5, color=INK, zorder=6)
        axes.plot([x, x], [tip, top], color=QUIET_INK, lw=0.7, dashes=(1.0, 2.5), zorder=4.5)
        axes.annotate(
            f"{plain(call)}, antenna {height:g} m up", (x, top), xytext=(5 if side == "left" else -5, -2),
            textcoords="offset points", ha=side, va="top", fontsize=9.5, fontweight="bold", parse_math=False,
            zorder=7,
        )  # fmt: skip


def _draw_worst_point(axes: Axes, drawing: PathDrawing, *, left: float, right: float, bottom: float) -> None:
    worst = drawing.clearance
    if not math.isfinite(worst.worst_share):
        return
    x = worst.worst_distance_m / 1000.0
    length_km = drawing.profile.length_m / 1000.0
    sight = left + (right - left) * x / length_km
    point = sight + worst.obstruction_m
    above = worst.obstruction_m > 0.0
    axes.plot([x, x], [sight, point], color=ACCENT, lw=2.0, zorder=6)
    axes.plot([x, x], [bottom, min(sight, point)], color=ACCENT, lw=0.9, dashes=(1.0, 2.0), zorder=5)
    axes.plot(
        [x], [point], marker="v" if above else "^", ms=8, color=ACCENT, mec="white", mew=0.8, zorder=7,
        ls="none", label="worst point",
    )  # fmt: skip
    share = x / length_km
    side = "left" if share < 0.25 else "right" if share > 0.75 else "center"
    axes.annotate(
        f"{number(abs(worst.obstruction_m))} m {'above' if above else 'below'} the sight line at {x:.1f} km, "
        f"where the zone's radius is {number(worst.worst_fresnel_m)} m",
        (x, bottom), xytext=(0, 5), textcoords="offset points", ha=side, va="bottom", fontsize=9.5, zorder=8,
        bbox={"boxstyle": "square,pad=0.25", "fc": "white", "ec": ACCENT, "lw": 0.9},
    )  # fmt: skip
