"""Foretold chances against what was heard: one picture, before and after correction."""

from __future__ import annotations

import io

from reach.answers.trust import BandTrust, TrustAnswer
from reach.drawings.profile_plot import PictureForm
from reach.drawings.style.palette import ACCENT, BLUES, INK, QUIET_INK, RULE
from reach.errors import NoPlan
from reach.learning.trust import ReliabilityBin


def reliability_picture(found: TrustAnswer, *, form: PictureForm = PictureForm.PNG) -> bytes:
    """One panel a band. Raises : NoPlan with a single net, when nothing can be left out."""
    from matplotlib.figure import Figure

    bands = [band for band in found.bands if band.trust is not None]
    if not bands:
        raise NoPlan("reports of one evening cannot be judged by another; draw it after the next net.")
    figure = Figure(figsize=(5.2 * len(bands), 5.4), layout="constrained")
    for number, band in enumerate(bands, start=1):
        _panel(figure.add_subplot(1, len(bands), number), band)
    figure.suptitle(found.net.name, color=INK, fontsize=11)
    data = io.BytesIO()
    metadata = {"png": {"Software": None}, "svg": {"Date": None}, "pdf": {"CreationDate": None}}[form.value]
    figure.savefig(data, format=form.value, dpi=160, metadata=metadata)
    return data.getvalue()


def _panel(axes, band: BandTrust) -> None:  # type: ignore[no-untyped-def]  # matplotlib is not typed here
    assert band.trust is not None
    axes.plot([0, 100], [0, 100], color=QUIET_INK, linewidth=0.8, linestyle=(0, (4, 3)))
    axes.annotate("as foretold", (70, 71.5), rotation=45, color=QUIET_INK, fontsize=8, rotation_mode="anchor")
    _line(axes, band.trust.before.bins, colour=QUIET_INK, marker="s", label="as predicted")
    _line(axes, band.trust.after.bins, colour=ACCENT, marker="o", label="with other nets' reports")
    for one in band.trust.after.bins:
        axes.plot([100 * one.foretold] * 2, [100 * one.low, 100 * one.high], color=BLUES[1], linewidth=5,
                  alpha=0.5, solid_capstyle="butt", zorder=1)  # fmt: skip
    axes.set_xlim(0, 100)
    axes.set_ylim(0, 100)
    axes.set_aspect("equal")
    axes.set_xlabel("foretold: heard in 100", color=INK)
    axes.set_ylabel("really heard in 100", color=INK)
    axes.set_title(
        f"{band.band}: {band.facts} reports of {band.nets} evenings\nbars: where right chances fall, 9 in 10",
        fontsize=9, color=INK,
    )  # fmt: skip
    axes.tick_params(colors=QUIET_INK)
    for spine in axes.spines.values():
        spine.set_color(RULE)
    axes.legend(loc="upper left", frameon=False, fontsize=8)


def _line(axes, bins: tuple[ReliabilityBin, ...], *, colour: str, marker: str, label: str) -> None:  # type: ignore[no-untyped-def]
    axes.plot(
        [100 * one.foretold for one in bins],
        [100 * one.seen for one in bins],
        color=colour, marker=marker, markersize=5, linewidth=1.2, label=label,
    )  # fmt: skip
