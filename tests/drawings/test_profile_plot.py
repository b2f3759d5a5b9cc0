"""The profile plot: the geometry it draws, its three file forms, text taken as it stands."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure

from reach.drawings.profile_plot import (
    PathDrawing,
    PictureForm,
    _draw_path,
    picture_form,
    profile_picture,
)
from reach.errors import InputProblem
from reach.propagation.clearance import clearance
from reach.terrain.profile import Profile


def drawing(invented, ground_m=None, *, left=12.0, right=20.0, clutter=0.0) -> PathDrawing:
    distance = np.linspace(0.0, 30_000.0, 301)
    ground = invented.elevation()[150, :301] if ground_m is None else ground_m
    profile = Profile.of(distance, ground, clutter_m=np.full(301, clutter))
    found = clearance(profile, tx_height_m=left, rx_height_m=right, frequency_mhz=146.94)
    there = invented._link("QK3ABC", "QK3XYZ", 6.2, 30_000.0)
    back = invented._link("QK3XYZ", "QK3ABC", -3.4, 30_000.0)
    return PathDrawing(profile, left, right, there, back, found)


def axes_of(plan: PathDrawing):
    axes = Figure(figsize=(11.0, 6.2)).add_axes((0.1, 0.2, 0.8, 0.6))
    _draw_path(axes, plan)
    return axes


def line(axes, label: str):
    return next(found for found in axes.lines if found.get_label() == label)


def test_earth_bulge_of_flat_ground(invented) -> None:
    """Rec. ITU-R P.526: d1 d2 / (2 a), a = 8500 km rounded; 30 km path: 15 km each side gives 13.2 m."""
    axes = axes_of(drawing(invented, np.zeros(301)))
    heights = line(axes, "ground on the bent Earth").get_ydata()
    assert heights[150] == pytest.approx(15_000.0**2 / (2 * 8_500_000.0), rel=0.002)
    assert heights[0] == heights[-1] == 0.0


def test_fresnel_zone_at_the_middle(invented) -> None:
    """First-zone radius 17.3 sqrt(d1 d2 / (f d)), km and GHz (common handbook form): 124.2 m here."""
    axes = axes_of(drawing(invented, np.zeros(301)))
    sight = line(axes, "sight line").get_ydata()
    middle = float(np.mean(sight))
    sixty = line(axes, "60 % of it").get_ydata()
    expected = 17.3 * np.sqrt(15.0 * 15.0 / (0.14694 * 30.0))
    assert middle - sixty[300] == pytest.approx(0.6 * expected, rel=0.003)
    assert sight[0] == 12.0 and sight[-1] == 20.0


def test_worst_point_is_marked_where_it_is(invented) -> None:
    ground = np.zeros(301)
    ground[100] = 300.0  # a wall at 10 km
    plan = drawing(invented, ground)
    axes = axes_of(plan)
    marked = line(axes, "worst point")
    assert float(marked.get_xdata()[0]) == pytest.approx(10.0)
    bulge = 10_000.0 * 20_000.0 / (2 * 8_495_000.0)
    assert float(marked.get_ydata()[0]) == pytest.approx(300.0 + bulge, abs=0.1)
    said = " ".join(text.get_text() for text in axes.texts)
    assert "above the sight line" in said and "at 10.0 km" in said


def test_clutter_and_sea_are_drawn_when_there_are_any(invented) -> None:
    bare = axes_of(drawing(invented, np.full(301, 400.0)))
    labels = bare.get_legend_handles_labels()[1]
    assert "trees and buildings" not in labels and "sea level" not in labels
    wooded = axes_of(drawing(invented, np.zeros(301), clutter=15.0)).get_legend_handles_labels()[1]
    assert "trees and buildings" in wooded and "sea level" in wooded


def test_everything_lies_inside_the_frame(invented) -> None:
    for ground in (None, np.zeros(301), np.full(301, 2_000.0)):
        axes = axes_of(drawing(invented, ground))
        low, high = axes.get_ylim()
        for name in ("ground on the bent Earth", "sight line"):
            heights = line(axes, name).get_ydata()
            assert low <= min(heights) and max(heights) <= high


@pytest.mark.parametrize("form", PictureForm)
def test_files_are_what_they_say_and_the_same_on_every_run(invented, form) -> None:
    plan = drawing(invented)
    data = profile_picture(plan, headline="One.", form=form)
    assert data.startswith({"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF"}[form.value])
    assert data == profile_picture(plan, headline="One.", form=form)
    assert len(data) < 400_000


HOSTILE = "$x^2$ <b>&{{ 7*7 }} </svg><script>alert(1)</script> --> ]]> \\frac{1}{0}"


@pytest.mark.parametrize("form", PictureForm)
def test_text_is_drawn_as_it_stands(invented, form) -> None:
    plan = drawing(invented)
    there = replace(plan.there, tx=HOSTILE)
    back = replace(plan.back, rx=HOSTILE)
    data = profile_picture(replace(plan, there=there, back=back), headline=HOSTILE, form=form)
    if form is PictureForm.SVG:
        tree = ElementTree.fromstring(data)  # well formed
        assert not [node for node in tree.iter() if node.tag.endswith("script")]
    if form is PictureForm.PDF:
        pypdf = pytest.importorskip("pypdf")
        said = pypdf.PdfReader(io.BytesIO(data)).pages[0].extract_text()
        # the answer, a line for each direction, and the antenna
        assert re.sub(r"\s+", "", said).count(re.sub(r"\s+", "", HOSTILE)) == 4


def test_the_caution_and_both_directions_are_on_the_paper(invented) -> None:
    pypdf = pytest.importorskip("pypdf")
    data = profile_picture(drawing(invented), headline="The answer.", form=PictureForm.PDF)
    said = pypdf.PdfReader(io.BytesIO(data)).pages[0].extract_text()
    for text in (
        "The answer.",
        "QK3XYZ hears QK3ABC",
        "QK3ABC hears QK3XYZ",
        "emergency number",
        "not a promise",
    ):
        assert text in said


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("text", ["a\x1bb\nc\r\x00", "北山", "\u202eabc", "𝔘" * 50, " "])
def test_odd_characters_draw_without_a_word(invented, text) -> None:
    plan = drawing(invented)
    plan = replace(plan, there=replace(plan.there, tx=text), back=replace(plan.back, rx=text))
    assert profile_picture(plan, headline=text, form=PictureForm.PNG).startswith(b"\x89PNG")


@pytest.mark.parametrize("words", [1, 12, 30, 45])
def test_long_answers_stay_on_the_picture(invented, words) -> None:
    """Nothing is drawn in the outermost pixels, whatever the length of the answer."""
    plan = drawing(invented, np.zeros(301) if words == 1 else None)
    headline = " ".join(["QK3ABC hears QK3XYZ"] * words)[:400]
    data = profile_picture(plan, headline=headline, form=PictureForm.PNG)
    import matplotlib.image

    picture = matplotlib.image.imread(io.BytesIO(data))[:, :, :3]
    rim = np.concatenate(
        [picture[:, -6:].ravel(), picture[:, :6].ravel(), picture[:6].ravel(), picture[-6:].ravel()]
    )
    assert rim.min() > 0.98


def test_picture_form_by_ending() -> None:
    assert picture_form("a/b.PDF") is PictureForm.PDF
    with pytest.raises(InputProblem, match=r"end it in \.png, \.svg or \.pdf"):
        picture_form("profile.gif")
