"""`reach desk`: a local page to run tonight's net, fed by the plan, feeding the store of reports."""

from __future__ import annotations

import datetime
import sys
import tempfile
import threading
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from reach.commands.options import basis_option, folder_argument, speak
from reach.commands.speaking import open_page
from reach.commands.tonight import net_option

if TYPE_CHECKING:
    from reach.answers.learned import Basis
    from reach.desk.door import Secrets
    from reach.desk.keys import Keys


@click.command("desk")
@folder_argument
@basis_option
@net_option
@click.option("--port", type=click.IntRange(1024, 65535), default=None,
              help="Port on this machine; without it the one of last time, or a free one.")  # fmt: skip
@click.option("--no-browser", "quiet", is_flag=True, help="Print the address and open nothing.")
def command(folder: Path, basis: Basis, net: str | None, port: int | None, quiet: bool) -> None:
    """Run tonight's net from a page on this machine: list, words to say, relays among those on the air.

    The page is for this machine's browser only. Everything noted is in FOLDER/evenings, on disk before the
    page shows it; closing the net stores who was really heard. In danger call the emergency number first.
    """
    from reach.answers.learned import zone_of
    from reach.answers.open_net import open_net
    from reach.answers.turns import meeting_on
    from reach.desk.door import Secrets
    from reach.desk.keys import Keys, keep_secrets, kept_secrets, new_secrets
    from reach.desk.night import Night
    from reach.desk.plan_page import Planner, plan_routes
    from reach.desk.server import bound_socket, desk_app, serve
    from reach.desk.tonight import tonight_routes
    from reach.evening.journal import FOLDER, Journal, journal_place
    from reach.inputs.net_folder import of_net, read_net_folder
    from reach.learning.evidence import evening_of

    read = read_net_folder(folder)
    zone = zone_of(read)
    today = datetime.datetime.now(zone).date()
    read = meeting_on(read, today) if net is None else of_net(read, net)

    def clock() -> datetime.datetime:
        return datetime.datetime.now(zone)

    place = Path(read.net.folder)
    with open_net(read, basis=basis) as opened:
        journal = Journal(journal_place(place, evening_of(clock(), zone)), clock=clock)
        night = Night(opened, journal, clock=clock)
        planner = Planner(opened, clock=clock)
        try:
            before = kept_secrets(place / FOLDER)
            listening = bound_socket(before, port)
            number = listening.getsockname()[1]
            chosen = Secrets(number, before.prefix, before.cookie) if before else new_secrets(number)
            keep_secrets(place / FOLDER, chosen)
            keys, ending = Keys(), threading.Event()
            routes = [*tonight_routes(night), *plan_routes(planner)]
            app = desk_app(night, chosen, keys, routes, ending=ending)
            _print_address(chosen, keys)
            speak("p and Enter: a new address. q and Enter, or Ctrl-C: end the desk; nothing noted is lost.")
            threading.Thread(
                target=_listen, args=(lambda: _print_address(chosen, keys), ending), daemon=True
            ).start()
            with tempfile.TemporaryDirectory(prefix="desk-") as private:  # its owner's only
                if not quiet:
                    _open_browser(chosen, keys, Path(private))
                serve(app, listening, ending=ending)
        finally:
            planner.end()
            night.end()
    speak(f"Noted in {journal.place}.")


def _address(chosen: Secrets, keys: Keys) -> str:
    return f"{chosen.origin}/open?key={keys.new()}"


def _print_address(chosen: Secrets, keys: Keys) -> None:
    speak(f"Desk: {_address(chosen, keys)}  (works once, within two minutes)")


def _open_browser(chosen: Secrets, keys: Keys, folder: Path) -> None:
    """Open the page by way of a file only this user can read: a command line is there for all to read."""
    page = folder / "desk.html"
    page.write_text(
        '<!doctype html><meta charset="utf-8"><link rel="icon" href="data:,">'
        f'<meta http-equiv="refresh" content="0;url={_address(chosen, keys)}"><title>Net desk</title>'
    )
    open_page(page)


def _listen(renew: Callable[[], None], ending: threading.Event) -> None:
    """p and q where the desk was started; nothing where nobody can type."""
    for line in sys.stdin or ():
        if line.strip().lower() == "p":
            renew()
        if line.strip().lower() == "q":
            ending.set()
            return
