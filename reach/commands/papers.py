"""Where a paper goes: `@paper_outputs` adds --page, --pdf, --text and --paper, and hands over one writer."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from reach.commands.options import say
from reach.commands.outputs import Outputs, outputs

if TYPE_CHECKING:
    from reach.drawings.papers.forms import PaperForms


@dataclass(frozen=True)
class PaperOutputs:
    """The files asked for, by form, and the size of the PDF's paper."""

    outputs: Outputs
    paper: str

    def write(self, forms: PaperForms) -> None:
        """Write every form asked for; without any, show the text."""
        if self.outputs.wants("page"):
            self.outputs.deliver("page", forms.page())
        if self.outputs.wants("pdf"):
            from reach.drawings.papers.paper import Paper

            self.outputs.deliver_bytes("pdf", forms.pdf(Paper[self.paper.upper()]))
        if self.outputs.wants("text"):
            self.outputs.deliver("text", forms.text())
        if not self.outputs.targets:
            from reach.drawings.tables.terminal import notes_text

            say(notes_text(forms.text().splitlines()))


paper_option = click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="Paper of the PDF.",
)


def deliver_paper(outputs: Outputs, kind: str, forms: PaperForms, paper: str) -> None:
    """Write one paper in the form the ending of its file says: .pdf, .html, else text."""
    from reach.drawings.papers.paper import Paper

    ending = Path(outputs.targets[kind]).suffix.lower()
    if ending == ".pdf":
        outputs.deliver_bytes(kind, forms.pdf(Paper[paper.upper()]))
    else:
        outputs.deliver(kind, forms.page() if ending in (".html", ".htm") else forms.text())


def paper_outputs(command: Callable[..., Any]) -> Callable[..., Any]:
    """Options for a paper, handed over as one `papers`."""

    @outputs("page", "pdf", "text")
    @functools.wraps(command)
    def wrapped(*, outputs: Outputs, paper: str, **arguments: Any) -> Any:
        return command(papers=PaperOutputs(outputs, paper), **arguments)

    return paper_option(wrapped)
