"""What the demo shows of its club: the answers any user may ask for, drawn as files to be written."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass

from reach.answers.backup import backup
from reach.answers.control import ControlAnswer, RotaWish, control
from reach.answers.made_from import undated_words
from reach.answers.open_net import OpenNet
from reach.answers.path import path
from reach.answers.repeater import RepeaterAnswer, repeater
from reach.answers.run_sheet import Occasion, RunSheetAnswer, sheet_of_plan
from reach.answers.simplex import simplex
from reach.drawings.exports.calendar import control_calendar
from reach.drawings.exports.machine import sheet_csv
from reach.drawings.maps.backup_page import backup_page
from reach.drawings.maps.repeater_page import repeater_page
from reach.drawings.maps.simplex_page import simplex_page
from reach.drawings.papers.forms import run_sheet_forms
from reach.drawings.papers.paper import Paper
from reach.drawings.profile_plot import path_picture
from reach.machinery.progress import Watch, unwatched
from reach.plans.relays.net_control import stand_in_for

# members whose paths are drawn: one over the ridge on simplex, one to a repeater that does not hear it
DRAWN_PATHS = (("QK3CDR", "QK3MPL"), ("QK3YEW", "QK3RA"))
ROTA_FROM = datetime.date(2027, 1, 1)  # a fixed day, so that the demo draws the same on any day
ROTA_NETS = 8


@dataclass(frozen=True)
class Drawn:
    """An answer in a sentence, and the files that show it: (name, contents)."""

    sentence: str
    files: tuple[tuple[str, bytes], ...]


def demo_drawings(opened: OpenNet, *, watch: Watch = unwatched) -> Iterator[Drawn]:
    """Repeaters, simplex, two paths, the papers of a net, the backup plan; each when it is drawn."""
    reached = []
    for one in opened.net.repeaters:
        found = repeater(opened, [one.call_sign], watch=watch)
        reached.append(found)
        page = repeater_page(found, opened.terrain)
        yield _page_and_rows(f"repeater-{one.call_sign}", found.headline, page, sheet_csv(found.rows))
    net = simplex(opened, watch=watch)
    yield _page_and_rows("simplex", net.headline, simplex_page(net, opened.terrain), sheet_csv(net.rows))
    for left, right in DRAWN_PATHS:
        study = path(opened, left=left, right=right, models=())
        yield Drawn(study.headline, ((f"path-{left}-{right}.png", path_picture(study)),))
    turns = control(opened, RotaWish(start=ROTA_FROM, nets=ROTA_NETS), watch=watch)
    yield _drawn_sheet(_first_sheet(opened, turns, reached, watch=watch), turns)
    yield _drawn_rota(turns)
    losses = backup(opened, watch=watch)
    yield Drawn(losses.headline, (("backup.html", backup_page(losses, opened.terrain).encode()),))


def _page_and_rows(name: str, sentence: str, page: str, rows: str) -> Drawn:
    return Drawn(sentence, ((f"{name}.html", page.encode()), (f"{name}.csv", rows.encode())))


def _first_sheet(
    opened: OpenNet, turns: ControlAnswer, reached: list[RepeaterAnswer], *, watch: Watch
) -> RunSheetAnswer:
    """The sheet of the first net of the rota, with nothing on it that depends on today."""
    first = turns.turns[0]
    net = simplex(opened, control=first.control, watch=watch)
    assert net.plan is not None  # a named control without a plan is refused
    return sheet_of_plan(
        net.plan,
        net.network,
        Occasion(
            undated_words(net.network, net.plan.rules.threshold),
            f"{first.start:%a %Y-%m-%d}",
            f"{first.start:%H:%M %Z}",
            stand_in_for(first.control, turns.controls),
        ),
        repeaters=[network for found in reached for network in found.networks],
        script=opened.folder.script,
    )


def _drawn_sheet(sheet: RunSheetAnswer, turns: ControlAnswer) -> Drawn:
    forms = run_sheet_forms(sheet)
    return Drawn(
        f"The page to run the net of {turns.turns[0].start:%A %d %B %Y} from.",
        (
            ("sheet.pdf", forms.pdf(Paper.A4)),
            ("sheet.html", forms.page().encode()),
            ("sheet.txt", forms.text().encode()),
        ),
    )


def _drawn_rota(turns: ControlAnswer) -> Drawn:
    stamp = datetime.datetime.combine(ROTA_FROM, datetime.time(), datetime.UTC)
    shared = ", ".join(dict.fromkeys(turn.control for turn in turns.turns))
    return Drawn(
        f"{shared} take turns as net control over {len(turns.turns)} nets.",
        (("rota.ics", control_calendar(turns, stamp=stamp)),),
    )
