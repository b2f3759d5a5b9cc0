"""Making a result fit to be handed round: `@share_options` adds --share, --square and --names."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import click

from reach.errors import Fault, InputProblem

if TYPE_CHECKING:
    from reach.answers.record import Answer
    from reach.answers.share import Share

Given = TypeVar("Given", bound="Answer")


@dataclass(frozen=True)
class Sharing:
    """What was asked for; share : None for the planner's own results."""

    share: Share | None = None

    def of(self, answer: Given) -> Given:
        """The answer as it may be drawn and written."""
        if self.share is None:
            return answer
        from reach.answers.share import shared

        return shared(answer, self.share)


def share_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Options handed over as one `sharing`."""

    @functools.wraps(command)
    def wrapped(*, to_share: bool, square: str | None, names: bool, **others: Any) -> Any:
        return command(sharing=Sharing(_share(to_share, square, names=names)), **others)

    options = (
        click.option(
            "--share",
            "to_share",
            is_flag=True,
            help="Fit to be handed round: nobody's exact place or name in anything that is written.",
        ),
        click.option(
            "--square",
            metavar="TEXT",
            default=None,
            help="With --share: side of the squares places are moved within, e.g. 5 km; 2 km unless given.",
        ),
        click.option("--names", is_flag=True, help="With --share: keep the members' names."),
    )
    decorated: Callable[..., Any] = wrapped
    for option in reversed(options):
        decorated = option(decorated)
    return decorated


def _share(to_share: bool, square: str | None, *, names: bool) -> Share | None:
    if not to_share:
        if square is not None or names:
            option = "--square" if square is not None else "--names"
            raise InputProblem(Fault(f"{option} says how to share", "add --share, or leave it out"))
        return None
    from reach.answers.share import Share
    from reach.inputs.quantities import parse_distance_m

    return Share(parse_distance_m(square), names) if square is not None else Share(names=names)


def never_shared(what: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """For a command whose answer is places: --share is refused with the reason. what : 'an area', say."""

    def refused(_: click.Context, __: click.Parameter, given: object) -> None:
        if given:
            problem = f"{what} shows places themselves and is never for sharing"
            raise InputProblem(Fault(problem, "share `simplex`, `repeater` or `backup` with --share instead"))

    return click.option("--share", is_flag=True, hidden=True, expose_value=False, callback=refused)
