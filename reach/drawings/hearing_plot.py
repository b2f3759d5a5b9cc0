"""Who hears whom as a picture for print: a square a pair and direction, ordered so that groups show."""

from __future__ import annotations

import io
import textwrap

import numpy as np
from numpy.typing import NDArray

from reach.answers.share import audience_in_short
from reach.answers.simplex import SimplexAnswer
from reach.drawings.profile_plot import PictureForm
from reach.drawings.style.cautions import SHORT
from reach.drawings.style.palette import BLUES, INK, PAPER, QUIET_INK, RULE
from reach.links.network import SimplexNetwork
from reach.visible import visible

MOST_FIGURES = 60  # stations up to which every square holds its figure
_LEAST_SHOWN = 0.05
_COUNTS = 0.5  # even: the chance from which a link is drawn as there


def group_order(network: SimplexNetwork) -> tuple[str, ...]:
    """Stations with a radio path so that those who work each other stand together.

    By the second vector of the random walk on the graph of chances both ways (the relaxed normalised cut of
    Shi and Malik 2000, from memory), so that neither a hilltop that works everyone nor a lone weak station
    hides the groups; each separate group by itself, larger groups first; ties by call sign.
    """
    calls = sorted(c for c in network.call_signs if network.net.station(c).has_radio_path)
    at = [network.index(call) for call in calls]
    weight = network.chance_both_ways[np.ix_(at, at)].copy()
    weight[weight < _LEAST_SHOWN] = 0.0
    np.fill_diagonal(weight, 0.0)
    groups = _groups(weight)
    ordered: list[int] = []
    for group in sorted(groups, key=lambda one: (-len(one), one[0])):
        ordered += [group[k] for k in _along(weight[np.ix_(group, group)])]
    return tuple(calls[k] for k in ordered)


def _groups(weight: NDArray[np.float64]) -> list[list[int]]:
    left, found = set(range(len(weight))), []
    while left:
        group, edge = set(), {min(left)}
        while edge:
            group |= edge
            edge = {int(k) for one in edge for k in np.flatnonzero(weight[one])} - group
        found.append(sorted(group))
        left -= group
    return found


def _along(weight: NDArray[np.float64]) -> list[int]:
    if len(weight) < 3:
        return list(range(len(weight)))
    share = 1.0 / np.sqrt(weight.sum(axis=1))  # a connected group of three or more: nobody without a link
    laplacian = np.eye(len(weight)) - share[:, np.newaxis] * weight * share
    values = np.linalg.eigh(laplacian)[1][:, 1] * share
    values = np.round(values * (1.0 if values[int(np.argmax(np.abs(values)))] > 0.0 else -1.0), 9)
    return sorted(range(len(values)), key=lambda k: (values[k], k))


def hearing_picture(found: SimplexAnswer, *, form: PictureForm = PictureForm.PNG) -> bytes:
    """Rows hear, columns send; the darker, the surer; each square says tenths of a chance.

    The same net gives the same bytes.
    """
    import matplotlib
    from matplotlib.colors import LinearSegmentedColormap
    from matplotlib.figure import Figure
    from matplotlib.patches import Rectangle

    network = found.network
    calls = group_order(network)
    at = [network.index(call) for call in calls]
    hears = np.nan_to_num(network.chance[np.ix_(at, at)], nan=0.0).T  # [listener, sender]
    count = len(calls)
    side = max(5.5, min(0.27 * count + 2.2, 30.0))
    settings = {"svg.hashsalt": "hearing", "font.family": "DejaVu Sans", "text.color": INK}
    metadata = {"png": {"Software": None}, "svg": {"Date": None, "Creator": None},
                "pdf": {"CreationDate": None, "Creator": None, "Producer": None}}[form.value]  # fmt: skip
    with matplotlib.rc_context(settings):
        figure = Figure(figsize=(side, side + 0.9), dpi=120, layout="constrained")
        axes = figure.add_subplot()
        shades = LinearSegmentedColormap.from_list("chance", [PAPER, *BLUES[2:]]).with_extremes(bad=RULE)
        masked = np.ma.masked_where(np.eye(count, dtype=bool), hears)
        axes.imshow(masked, cmap=shades, vmin=0.0, vmax=1.0, interpolation="nearest")
        size = max(4.0, min(8.5, 420.0 / max(count, 1)))
        axes.set_xticks(range(count), calls, rotation=90, fontsize=size)
        axes.set_yticks(range(count), calls, fontsize=size)
        axes.xaxis.tick_top()
        axes.tick_params(length=0, colors=INK)
        for edge in np.arange(-0.5, count + 0.5):
            axes.axhline(edge, color="white", linewidth=0.6)
            axes.axvline(edge, color="white", linewidth=0.6)
        if count <= MOST_FIGURES:
            for row in range(count):
                for column in range(count):
                    chance = hears[row, column]
                    if row != column and chance >= _LEAST_SHOWN:
                        axes.text(column, row, _figure(chance), ha="center", va="center", fontsize=size,
                                  color=_on(chance))  # fmt: skip
        for row, column in np.argwhere((hears >= _COUNTS) & (hears.T < _COUNTS)):
            axes.add_patch(
                Rectangle(
                    (column - 0.42, row - 0.42),
                    0.84,
                    0.84,
                    fill=False,
                    edgecolor=_on(hears[row, column]),
                    linewidth=1.1,
                )
            )
        for spine in axes.spines.values():
            spine.set_color(RULE)
        axes.set_ylabel("hears", fontsize=10, color=QUIET_INK)
        axes.set_title("sends", fontsize=10, color=QUIET_INK)
        channel = network.channel
        head = visible(
            f"{found.net.name}: who hears whom on {channel.frequency_mhz:.8g} MHz ({channel.name})"
        )
        figure.suptitle(head.replace("$", r"\$"), fontsize=11)
        below = (*_key(count), audience_in_short(found.net), SHORT)
        lines = [line for text in below for line in textwrap.wrap(text, int(13 * side))]
        figure.supxlabel("\n".join(lines), fontsize=8.5, color=INK)
        out = io.BytesIO()
        figure.savefig(out, format=form.value, metadata=metadata)
    return out.getvalue()


def _key(count: int) -> tuple[str, str]:
    """What the squares mean, a sentence each."""
    framed = "Framed: even or better this way, not the other."
    if count > MOST_FIGURES:
        few = (
            f"The darker, the surer. {count} stations, more than {MOST_FIGURES}: no figures; print it large."
        )
        return few, framed
    return "The row hears the column: chances in tenths, + almost sure, empty hardly.", framed


def _on(chance: float) -> str:
    """What is legible on a square of this chance."""
    return PAPER if chance > 0.55 else INK


def _figure(chance: float) -> str:
    return "+" if chance >= 0.925 else f"{max(1, round(10.0 * chance))}"
