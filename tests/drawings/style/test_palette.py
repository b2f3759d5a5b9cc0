"""Colours told apart by everyone: checked by simulating colour blindness, and in grey."""

from __future__ import annotations

import math
import re
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from reach.drawings.style.palette import (
    ACCENT,
    ACCENT_TEXT,
    BLUES,
    CHANCE_STEPS,
    GRADE_LINES,
    INK,
    PAPER,
    QUIET_INK,
    RELIEF_DARK,
    RELIEF_LIGHT,
    WATER,
    rgb,
)
from reach.links.grade import Grade

# G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A Physiologically-based Model for Simulation of Color
# Vision Deficiency", IEEE TVCG 15(6), 2009: matrices for severity 1.0, on linear RGB (from memory).
DEFICIENCIES = {
    "none": np.eye(3),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopia": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}


def linear(colour: str | tuple[int, ...]) -> np.ndarray:
    """Linear RGB 0..1 of an sRGB colour (IEC 61966-2-1)."""
    c = np.array(rgb(colour) if isinstance(colour, str) else colour) / 255.0
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def lab(colour: str | tuple[int, ...], deficiency: str = "none") -> np.ndarray:
    """CIE L*a*b* (D65) as seen with a deficiency."""
    seen = np.clip(DEFICIENCIES[deficiency] @ linear(colour), 0.0, 1.0)
    xyz = (
        np.array(
            [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]  # IEC 61966-2-1
        )
        @ seen
    )
    f = np.array(
        [
            v ** (1 / 3) if v > (6 / 29) ** 3 else v * (29 / 6) ** 2 / 3 + 4 / 29
            for v in xyz / [0.9505, 1.0, 1.089]
        ]
    )
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def contrast(one: str | tuple[int, ...], other: str | tuple[int, ...]) -> float:
    """Contrast ratio of WCAG 2.1, success criteria 1.4.3 and 1.4.11."""
    weights = np.array([0.2126, 0.7152, 0.0722])
    a, b = sorted((float(weights @ linear(one)), float(weights @ linear(other))))
    return (b + 0.05) / (a + 0.05)


def test_the_simulation_keeps_greys_grey() -> None:
    """The matrices' rows sum to 1, as the paper requires of them: a check on the typed figures."""
    for name, matrix in DEFICIENCIES.items():
        np.testing.assert_allclose(matrix.sum(axis=1), 1.0, atol=2e-6, err_msg=name)


def test_the_ramp_is_the_published_one() -> None:
    """matplotlib ships ColorBrewer's 9-class Blues as the knots of its map of that name."""
    matplotlib = pytest.importorskip("matplotlib")
    published = matplotlib.colormaps["Blues"].resampled(9)
    for step, colour in enumerate(BLUES):
        np.testing.assert_allclose(np.array(published(step)[:3]) * 255, rgb(colour), atol=1.0)


@pytest.mark.parametrize("deficiency", DEFICIENCIES)
def test_the_ramp_darkens_step_by_step_for_every_eye(deficiency) -> None:
    lightness = [lab(colour, deficiency)[0] for colour in BLUES]
    assert all(a - b > 3.0 for a, b in pairwise(lightness))


@pytest.mark.parametrize("deficiency", DEFICIENCIES)
def test_the_accent_stands_apart_from_every_line_for_every_eye(deficiency) -> None:
    """Colour difference (CIE 1976) over 20; about 2.3 is just noticeable (common practice, no source)."""
    for colour in (*(style.colour for style in GRADE_LINES.values()), INK):
        assert math.dist(lab(ACCENT, deficiency), lab(colour, deficiency)) > 20.0, colour


def test_lines_stand_out_from_the_darkest_relief_and_from_water() -> None:
    """3 to 1 is what WCAG 2.1, 1.4.11 asks of graphics; here of every line that counts, and the accent."""
    for ground in (PAPER, (RELIEF_LIGHT,) * 3, WATER):
        for grade, style in GRADE_LINES.items():
            if grade.counts:
                assert contrast(style.colour, ground) >= 3.0, (grade, ground)
        assert contrast(ACCENT, ground) >= 3.0
    darkest = (RELIEF_DARK,) * 3
    assert contrast(GRADE_LINES[Grade.WORKABLE].colour, darkest) >= 2.4
    assert contrast(GRADE_LINES[Grade.SOLID].colour, darkest) >= 3.0


def test_text_is_legible() -> None:
    """4.5 to 1: WCAG 2.1, 1.4.3."""
    for colour in (INK, QUIET_INK, ACCENT_TEXT):
        assert contrast(colour, PAPER) >= 4.5


def test_grades_differ_without_colour() -> None:
    """Grey print: weight or dashes alone tell any two grades apart, the better one heavier."""
    styles = [GRADE_LINES[grade] for grade in (Grade.CLEAR, Grade.SOLID, Grade.WORKABLE)]
    assert all(a.weight >= 1.4 * b.weight for a, b in pairwise(styles))
    assert not any(style.dash for style in styles)
    assert GRADE_LINES[Grade.WEAK].dash


def test_coverage_darkens_with_chance_over_the_relief() -> None:
    """Blended over mid-grey relief, each step is darker than the one before by more than the eye needs."""
    ground = np.array([(RELIEF_DARK + RELIEF_LIGHT) / 2.0] * 3)
    seen = []
    for step in CHANCE_STEPS:
        mixed = step.opacity * np.array(rgb(step.fill)) + (1 - step.opacity) * ground
        seen.append(lab(tuple(int(v) for v in mixed))[0])
    assert all(a - b > 5.0 for a, b in pairwise(seen))
    assert [s.from_chance for s in CHANCE_STEPS] == sorted(s.from_chance for s in CHANCE_STEPS)


@pytest.mark.parametrize("text", ["red", "#12345", "#1234567", "123456#", ""])
def test_only_plain_colours_are_taken(text) -> None:
    with pytest.raises(ValueError, match="rrggbb"):
        rgb(text)


def test_colours_are_said_in_one_place() -> None:
    """No other file of the drawings holds a colour of its own."""
    import reach.drawings.style.palette as palette

    folder = Path(palette.__file__).parents[1]
    own = [
        path.name
        for path in [*folder.rglob("*.py"), *(folder / "assets").iterdir()]
        if path.name != "palette.py"
        and re.search(r"#[0-9a-fA-F]{6}\b|#[0-9a-fA-F]{3}\b", path.read_text("utf-8"))
    ]
    assert own == []
