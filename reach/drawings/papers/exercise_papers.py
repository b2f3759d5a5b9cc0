"""An exercise on paper: questions for operators with room to write, and the answers for the leader."""

from __future__ import annotations

import io
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from reach.answers.exercise import ExerciseAnswer
from reach.answers.exercise_questions import QUESTIONS, round_questions
from reach.drawings.papers.forms import PaperForms
from reach.drawings.papers.page_template import drawn_page
from reach.drawings.papers.paper import BOTTOM, SIDE, TOP, Block, Paper, Pen, paginated, paragraph, rule
from reach.drawings.papers.rows import heading, height_of, words_of
from reach.drawings.papers.typeface import undrawn_words
from reach.drawings.style.cautions import EMERGENCY, PROMISE

DRILL = 'Say "this is an exercise" first and last in every call.'
_LINE = 21.0  # height of a ruled line, points


@dataclass(frozen=True)
class ExercisePaper:
    """title, lines under it, and blocks: a round's heading with (question, answer); '' leaves a line."""

    title: str
    intro: tuple[str, ...]
    rounds: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    cautions: tuple[str, ...] = (DRILL, EMERGENCY, PROMISE)


def question_forms(found: ExerciseAnswer) -> PaperForms:
    """What operators get."""
    rounds = tuple(
        (f"Round {r.number}. {r.situation}", tuple((question, "") for question in QUESTIONS))
        for r in round_questions(found)
    )
    intro = ("Your call sign: ____________   Name: ____________________   Date: ____________",)
    return _forms(ExercisePaper(f"{found.net.name}: exercise", intro, rounds))


def answer_forms(found: ExerciseAnswer) -> PaperForms:
    """What the leader gets."""
    rounds = tuple(
        (f"Round {r.number}. {r.situation}", tuple(zip(QUESTIONS, r.answers))) for r in round_questions(found)
    )
    intro = (f"For the leader only. Seed {found.seed}. {found.headline}", found.basis)
    return _forms(ExercisePaper(f"{found.net.name}: exercise, answers", intro, rounds))


def _forms(paper: ExercisePaper) -> PaperForms:
    return PaperForms(
        text=partial(_text, paper),
        page=partial(drawn_page, "exercise.html", paper=paper),
        pdf=partial(_pdf, paper),
    )


def _text(paper: ExercisePaper, width: int = 78) -> str:
    lines = [paper.title, "=" * len(paper.title)]
    for text in paper.intro:
        lines += textwrap.wrap(text, width)
    for title, pairs in paper.rounds:
        lines += ["", *textwrap.wrap(title, width)]
        for question, answer in pairs:
            lines += textwrap.wrap(question, width, initial_indent="  ", subsequent_indent="  ")
            lines += textwrap.wrap(
                answer or "_" * (width - 4), width, initial_indent="    ", subsequent_indent="    "
            )
    lines.append("")
    for text in paper.cautions:
        lines += textwrap.wrap(text, width)
    return (
        "\n".join("".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in t) for t in lines)
        + "\n"
    )


def _pdf(paper: ExercisePaper, size: Paper = Paper.A4) -> bytes:
    from matplotlib.backends.backend_pdf import PdfPages

    pen = Pen(size)
    last = " ".join((*paper.cautions, undrawn_words(_text(paper))))
    foot = [rule(0.8, 4.0), paragraph(pen, words_of(last), gap=0.0)]
    blocks = [paragraph(pen, words_of(paper.title, "bold"), 16.0, 4.0)]
    blocks += [paragraph(pen, words_of(text), gap=6.0) for text in paper.intro]
    for title, pairs in paper.rounds:
        blocks += _round(pen, title, pairs)
    out = io.BytesIO()
    with PdfPages(out, metadata={"CreationDate": None, "Title": paper.title}) as pdf:
        for page in paginated(blocks, pen.room - height_of(foot)):
            pen.start_page()
            _drawn(pen, page, pen.height - TOP)
            _drawn(pen, foot, BOTTOM + height_of(foot))
            pdf.savefig(pen.figure)
    return out.getvalue()


def _drawn(pen: Pen, blocks: Sequence[Block], top: float) -> None:
    for block in blocks:
        block.draw(pen, top)
        top -= block.height


def _round(pen: Pen, title: str, pairs: Sequence[tuple[str, str]]) -> list[Block]:
    """A round, kept together on a page."""
    found = [rule(1.2, 10.0), heading(pen, title)]
    for question, answer in pairs:
        found.append(paragraph(pen, words_of(question), gap=1.0))
        found.append(paragraph(pen, words_of(answer, "bold"), gap=3.0, indent=14.0) if answer else _ruled())
    return [Block(b.height, b.draw, together=k + 1 < len(found)) for k, b in enumerate(found)]


def _ruled() -> Block:
    def draw(pen: Pen, top: float) -> None:
        pen.line(SIDE + 14.0, top - _LINE + 4.0, pen.width - SIDE, top - _LINE + 4.0, 0.3)

    return Block(_LINE, draw)
