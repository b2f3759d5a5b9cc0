"""`reach desk`: a local page to run tonight's net, fed by the plan, feeding the store of reports."""

from __future__ import annotations

import datetime
import sys
import tempfile
import threading
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import click

from reach.commands.options import basis_option, folder_argument, speak
from reach.commands.tonight import tonight_options

if TYPE_CHECKING:
    from reach.answers.learned import Basis
    from reach.desk.door import Secrets
    from reach.desk.keys import Keys
    from reach.inputs.net_folder import NetFolder


@click.command("desk")
@folder_argument
@basis_option
@click.option("--port", type=click.IntRange(1024, 65535), default=None,
              help="Port on this machine; without it the one of last time, or a free one.")  # fmt: skip
@click.option("--no-browser", "quiet", is_flag=True, help="Print the address and open nothing.")
@tonight_options
def command(folder: NetFolder, basis: Basis, port: int | None, quiet: bool) -> None:
    """Run tonight's net from a page on this machine: list, words to say, relays among those on the air.

    The page is for this machine's browser only. Everything noted is in FOLDER/evenings, on disk before the
    page shows it; closing the net stores who was really heard. In danger call the emergency number first.
    """
    from reach.answers.learned import zone_of
    from reach.answers.open_net import open_net
    from reach.desk.door import Secrets
    from reach.desk.keys import Keys, keep_secrets, kept_secrets, new_secrets
    from reach.desk.night import Night
    from reach.desk.plan_page import Planner, plan_routes
    from reach.desk.server import bound_socket, desk_app, serve
    from reach.desk.tonight import tonight_routes
    from reach.evening.journal import FOLDER, Journal, journal_place
    from reach.learning.evidence import evening_of

    zone = zone_of(folder)

    def clock() -> datetime.datetime:
        return datetime.datetime.now(zone)

    place = Path(folder.net.folder)
    with open_net(folder, basis=basis) as opened:
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
            _invite(chosen, keys, quiet=quiet)
            threading.Thread(
                target=_listen, args=(lambda: _print_address(chosen, keys), ending), daemon=True
            ).start()
            serve(app, listening, ending=ending)
        finally:
            planner.end()
            night.end()
    speak(f"Noted in {journal.place}.")


def _address(chosen: Secrets, keys: Keys) -> str:
    return f"{chosen.origin}/open?key={keys.new()}"


def _print_address(chosen: Secrets, keys: Keys) -> None:
    speak(f"Desk: {_address(chosen, keys)}  (works once, within two minutes)")


def _invite(chosen: Secrets, keys: Keys, *, quiet: bool) -> None:
    """Print the address, and open the browser by a private file: a command line is there for all to read."""
    _print_address(chosen, keys)
    speak("p and Enter: a new address. q and Enter, or Ctrl-C: end the desk; nothing noted is lost.")
    if quiet:
        return
    with tempfile.NamedTemporaryFile("w", suffix=".html", prefix="desk-", delete=False) as file:
        file.write(
            '<!doctype html><meta charset="utf-8"><link rel="icon" href="data:,">'
            f'<meta http-equiv="refresh" content="0;url={_address(chosen, keys)}"><title>Net desk</title>'
        )
    page = Path(file.name)
    with suppress(webbrowser.Error):
        webbrowser.open(page.as_uri())
    remove = threading.Timer(30.0, lambda: page.unlink(missing_ok=True))
    remove.daemon = True
    remove.start()


def _listen(renew: Callable[[], None], ending: threading.Event) -> None:
    """p and q where the desk was started; nothing where nobody can type."""
    for line in sys.stdin or ():
        if line.strip().lower() == "p":
            renew()
        if line.strip().lower() == "q":
            ending.set()
            return
