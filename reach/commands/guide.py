"""`reach guide`: a short book on planning and running a net, opened in the browser with no network."""

from __future__ import annotations

import click

from reach.commands.options import deliver, replace_option, speak
from reach.commands.speaking import open_page
from reach.files import Existing


@click.command("guide")
@click.option("--no-browser", "quiet", is_flag=True, help="Say where it is and open nothing.")
@click.option("--page", "page", metavar="FILE", default=None,
              help="Write a copy in one file, pictures included, to hand on.")  # fmt: skip
@replace_option
def command(quiet: bool, page: str | None, existing: Existing) -> None:
    """A short book: the first evening, the map, running the net, the day the repeater fails, the numbers.

    It comes with the program and is read with no network.
    """
    from reach.drawings.guide.book import guide_place, whole_guide

    if page is not None:
        deliver(whole_guide(), page, existing=existing)
        return
    place = guide_place()
    speak(f"The guide is {place}")
    if not quiet:
        open_page(place)
