"""The whole job from a program or a notebook.

    import datetime

    import reach.api

    with reach.api.load("our-net") as club:
        net = club.simplex()                                      # who hears whom, net control, relays
        print(net.headline)
        club.draw(net).save("simplex.html")
        club.draw(club.repeater("QK0R")).save("repeater.html")    # who gets in, who hears
        club.draw(club.path("QK1ABC", "QK2DEF")).save("path.png")  # one path, line by line
        print(club.relays(seed=1).check_ins.sentence)             # how many will check in
        print(club.what_if(["QK2DEF antenna 6 dBd"]).headline)
        club.paper(club.sheet(day=datetime.date(2026, 12, 1))).save("sheet.pdf")   # or .html, .txt
        for turn in club.control(start=datetime.date(2026, 12, 1), nets=4).turns:
            print(turn.start, turn.control, turn.stand_in)

`Club` has one method a question; each gives the frozen record of `reach.answers` that the command of the same
name shows: headline, figures, what was assumed, warnings, rows. All that can be wrong with what the user gave
is a `ReachError` fit to be shown. A file that is there is written over only when asked:
`.save("simplex.html", existing=Existing.REPLACE)`.

A prediction is not a promise: test on the air before you rely on it. In danger call the emergency number
first.
"""

from __future__ import annotations

import datetime
import html
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

from reach.answers.area import AreaAnswer, area
from reach.answers.area_work import area_work
from reach.answers.backup import BackupAnswer, backup
from reach.answers.check import CheckAnswer, check
from reach.answers.control import ControlAnswer, RotaWish, control
from reach.answers.exercise import ExerciseAnswer, exercise
from reach.answers.kit import KitAnswer, kit
from reach.answers.learned import Basis
from reach.answers.open_net import OpenNet, open_terrain, opened_with
from reach.answers.path import PathAnswer, path
from reach.answers.places import PlacesAnswer, served_places
from reach.answers.relays import RelaysAnswer, Simulation, WhatIfAnswer, relays, what_if
from reach.answers.repeater import RepeaterAnswer, repeater
from reach.answers.report import ReportAnswer, report
from reach.answers.rules import AS_WRITTEN, RuleChoice
from reach.answers.run_sheet import RunSheetAnswer, run_sheet
from reach.answers.simplex import SimplexAnswer, simplex
from reach.answers.sites import MOST_MEMBERS, SiteAim, SitesAnswer, sites
from reach.answers.spots import SpotsAnswer, spots
from reach.answers.trust import TrustAnswer, trust
from reach.coverage.area.service import StationKind
from reach.drawings.maps.area_page import area_page
from reach.drawings.maps.backup_page import backup_page
from reach.drawings.maps.repeater_page import repeater_page
from reach.drawings.maps.simplex_page import simplex_page
from reach.drawings.maps.sites_page import sites_page, spots_page
from reach.drawings.papers.forms import PaperForms, kit_forms, run_sheet_forms
from reach.drawings.papers.paper import Paper
from reach.drawings.profile_plot import PictureForm, path_picture
from reach.drawings.reliability_plot import reliability_picture
from reach.errors import OutputProblem, ReachError
from reach.files import Existing, write_bytes, write_text
from reach.inputs.net_folder import NetFolder, of_net, read_net_folder
from reach.inputs.nets import MeetsOn
from reach.inputs.search_area import SearchArea
from reach.inputs.tonight import present
from reach.machinery.progress import Watch, unwatched
from reach.plans.outages.failures import Mains
from reach.stations import Net, Station

__all__ = ["Basis", "Club", "Existing", "MapPage", "PathPicture", "ReachError", "SheetPaper", "load"]

Drawable = (
    SimplexAnswer
    | RepeaterAnswer
    | PathAnswer
    | AreaAnswer
    | BackupAnswer
    | SitesAnswer
    | SpotsAnswer
    | TrustAnswer
)


@dataclass(frozen=True)
class MapPage:
    """A map as one HTML page that needs no network. A notebook shows it in a frame."""

    page: str

    def save(self, file: str | Path, *, existing: Existing = Existing.KEEP) -> Path:
        """Write it, whole or not at all. Returns the path. Raises : OutputProblem."""
        write_text(Path(file), self.page, existing)
        return Path(file)

    def _repr_html_(self) -> str:
        return _framed(self.page)


@dataclass(frozen=True)
class PathPicture:
    """A path profile as a picture. A notebook shows PNG and SVG."""

    data: bytes
    form: PictureForm

    def save(self, file: str | Path, *, existing: Existing = Existing.KEEP) -> Path:
        """Write it, whole or not at all. Returns the path. Raises : OutputProblem."""
        write_bytes(Path(file), self.data, existing)
        return Path(file)

    def _repr_png_(self) -> bytes | None:
        return self.data if self.form is PictureForm.PNG else None

    def _repr_svg_(self) -> str | None:
        return self.data.decode("utf-8") if self.form is PictureForm.SVG else None


@dataclass(frozen=True)
class SheetPaper:
    """A run sheet or kit pages ready for paper. A notebook shows them as a page."""

    forms: PaperForms

    @property
    def text(self) -> str:
        """As plain text."""
        return self.forms.text()

    def save(self, file: str | Path, *, paper: Paper = Paper.A4, existing: Existing = Existing.KEEP) -> Path:
        """Write it as .pdf, .html or .txt, by the file's ending; paper : of the PDF.

        Returns the path. Raises : OutputProblem, for another ending too.
        """
        file = Path(file)
        ending = file.suffix.lower()
        if ending == ".pdf":
            write_bytes(file, self.forms.pdf(paper), existing)
        elif ending == ".html":
            write_text(file, self.forms.page(), existing)
        elif ending == ".txt":
            write_text(file, self.text, existing)
        else:
            raise OutputProblem(f"{file}: a paper is written as .pdf, .html or .txt; choose one.")
        return file

    def _repr_html_(self) -> str:
        return _framed(self.forms.page())


def _framed(page: str) -> str:
    return f'<iframe srcdoc="{html.escape(page)}" style="width:100%;height:640px;border:0"></iframe>'


class Club:
    """A net folder read, with its terrain open. Close it, or use it in `with`.

    Every question takes `watch`, which is told how far long work is (`reach.machinery.progress`).
    """

    def __init__(self, opened: OpenNet) -> None:
        self.opened = opened

    def __enter__(self) -> Club:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the terrain's files."""
        self.opened.terrain.close()

    @property
    def folder(self) -> NetFolder:
        """Everything the folder says: net, planning rules, schedule, script."""
        return self.opened.folder

    @property
    def net(self) -> Net:
        """Members, repeaters, channels."""
        return self.opened.net

    def check(self) -> CheckAnswer:
        """Is the net ready to be planned?"""
        return check(self.folder)

    def simplex(
        self,
        channel: str | None = None,
        *,
        control: str | None = None,
        choice: RuleChoice = AS_WRITTEN,
        watch: Watch = unwatched,
    ) -> SimplexAnswer:
        """Who hears whom on a channel, who should be net control, who relays. Raises : as answers.simplex."""
        return simplex(self.opened, channel=channel, control=control, choice=choice, watch=watch)

    def repeater(self, *call_signs: str, watch: Watch = unwatched) -> RepeaterAnswer:
        """Who gets into each repeater, all of the net's unless named. Raises : as answers.repeater."""
        return repeater(self.opened, call_signs, watch=watch)

    def path(self, left: str, right: str, *, channel: str | None = None) -> PathAnswer:
        """One path in full, both directions. Raises : as answers.path."""
        return path(self.opened, left=left, right=right, channel=channel)

    def report(self, *said: str, now: datetime.datetime, log_of: str = "") -> ReportAnswer:
        """Take in files or lines such as "QK1ABC hears QK2DEF R4"; plans asked for afterwards use them.

        now : with its time zone; log_of : whose log a log is that does not say. Raises : as answers.report.
        """
        found = report(self.folder, said, now=now, owner=log_of)
        self.opened = opened_with(self.folder, self.opened.terrain, basis=self.opened.learned.basis)
        return found

    def trust(self, *, watch: Watch = unwatched) -> TrustAnswer:
        """How far plans can be trusted, judged by who was really heard. Raises : as answers.trust."""
        return trust(self.opened, watch=watch)

    def relays(
        self,
        channel: str | None = None,
        *,
        control: str | None = None,
        choice: RuleChoice = AS_WRITTEN,
        seed: int = 1,
        evenings: int = 10_000,
        watch: Watch = unwatched,
    ) -> RelaysAnswer:
        """The fewest relays, and how many check-ins to expect. Raises : as answers.relays."""
        simulation = Simulation(evenings=evenings, seed=seed)
        return relays(
            self.opened, channel=channel, control=control, choice=choice, simulation=simulation, watch=watch
        )

    def what_if(
        self,
        changes: Sequence[str],
        *,
        channel: str | None = None,
        control: str | None = None,
        choice: RuleChoice = AS_WRITTEN,
        watch: Watch = unwatched,
    ) -> WhatIfAnswer:
        """What "without QK1ABC" or "QK1ABC height 15 m", say, would change. The folder stays as it is.

        Raises : as answers.relays.what_if.
        """
        return what_if(
            self.opened, changes=changes, channel=channel, control=control, choice=choice, watch=watch
        )

    def control(
        self,
        channel: str | None = None,
        *,
        start: datetime.date,
        until: datetime.date | None = None,
        nets: int = 8,
        share: float = 0.8,
        last: str = "",
        choice: RuleChoice = AS_WRITTEN,
        watch: Watch = unwatched,
    ) -> ControlAnswer:
        """Every willing net control ranked, and a rota of the nets on or after `start`; see RotaWish."""
        wish = RotaWish(start=start, until=until, nets=nets, share=share, last=last)
        return control(self.opened, wish, channel=channel, choice=choice, watch=watch)

    def sheet(
        self,
        channel: str | None = None,
        *,
        day: datetime.date,
        control: str | None = None,
        choice: RuleChoice = AS_WRITTEN,
        kind: MeetsOn | None = None,
        repeater: str | None = None,
        watch: Watch = unwatched,
    ) -> RunSheetAnswer:
        """What net control runs the net of a day from. Raises : as answers.run_sheet."""
        return run_sheet(
            self.opened,
            today=day,
            day=day,
            channel=channel,
            control=control,
            choice=choice,
            kind=kind,
            repeater=repeater,
            watch=watch,
        )

    def area(
        self,
        *call_signs: str,
        kind: StationKind = StationKind.HANDHELD,
        radius_m: float = 30_000.0,
        cell_m: float = 30.0,
        channel: str | None = None,
        watch: Watch = unwatched,
    ) -> AreaAnswer:
        """From where a usual station of a kind gets in, for every cell. Raises : as answers.area."""
        work = area_work(self.net, call_signs, kind=kind, radius_m=radius_m, cell_m=cell_m, channel=channel)
        return area(self.opened, work, watch=watch)

    def backup(
        self,
        *down: str,
        mains: Mains = Mains.ON,
        channel: str | None = None,
        changes: Sequence[str] = (),
        watch: Watch = unwatched,
    ) -> BackupAnswer:
        """How the net goes on without what is named; the likely cases when nothing is. As answers.backup."""
        return backup(self.opened, down=down, mains=mains, channel=channel, changes=changes, watch=watch)

    def sites(
        self,
        aim: SiteAim = MOST_MEMBERS,
        *,
        area: SearchArea | None = None,
        relay: Station | None = None,
        channel: str | None = None,
        talk: str | None = None,
        watch: Watch = unwatched,
    ) -> SitesAnswer:
        """Where portable relays do most. Raises : as answers.sites."""
        return sites(self.opened, aim=aim, area=area, relay=relay, channel=channel, talk=talk, watch=watch)

    def spots(
        self,
        seeker: str,
        *into: str,
        area: SearchArea | None = None,
        channel: str | None = None,
        watch: Watch = unwatched,
    ) -> SpotsAnswer:
        """The nearest spots a member can drive to and get in from. Raises : as answers.spots."""
        return spots(self.opened, seeker, into=into, area=area, channel=channel, watch=watch)

    def kit(self, *operators: str, channel: str | None = None, watch: Watch = unwatched) -> KitAnswer:
        """A page for each operator to take along. Raises : as answers.kit."""
        return kit(self.opened, operators=operators, channel=channel, watch=watch)

    def exercise(
        self, *, seed: int = 1, rounds: int = 10, channel: str | None = None, watch: Watch = unwatched
    ) -> ExerciseAnswer:
        """Random failures to rehearse. Raises : as answers.exercise."""
        return exercise(self.opened, seed=seed, rounds=rounds, channel=channel, watch=watch)

    def places(self, *, channel: str | None = None, watch: Watch = unwatched) -> PlacesAnswer:
        """Which stations work the places of places.csv, in each case. Raises : as answers.places."""
        return served_places(self.opened, channel=channel, watch=watch)

    def draw(self, found: Drawable, *, form: PictureForm = PictureForm.PNG) -> MapPage | PathPicture:
        """An answer drawn: a path or trust as a picture of that form, else a page on the club's ground."""
        if isinstance(found, PathAnswer):
            return PathPicture(path_picture(found, form=form), form)
        if isinstance(found, TrustAnswer):
            return PathPicture(reliability_picture(found, form=form), form)
        terrain = self.opened.terrain
        if isinstance(found, SimplexAnswer):
            return MapPage(simplex_page(found, terrain))
        if isinstance(found, RepeaterAnswer):
            return MapPage(repeater_page(found, terrain))
        if isinstance(found, AreaAnswer):
            return MapPage(area_page(found, terrain))
        if isinstance(found, BackupAnswer):
            return MapPage(backup_page(found, terrain))
        if isinstance(found, SitesAnswer):
            return MapPage(sites_page(found, terrain))
        return MapPage(spots_page(found, terrain))

    def paper(self, found: RunSheetAnswer | KitAnswer) -> SheetPaper:
        """A run sheet or kit pages for paper. Raises : InputProblem for a script that does not work."""
        return SheetPaper(kit_forms(found) if isinstance(found, KitAnswer) else run_sheet_forms(found))


def load(
    folder: str | Path, *, net: str | None = None, without: Sequence[str] = (), basis: Basis = Basis.HEARD
) -> Club:
    """Read a net folder and open its terrain. without : call signs of who is away tonight.

    net : one of the club's nets by name, where net.toml has several; otherwise channels and repeaters come
    in the order of the file. basis : whether reports of who was heard correct its plans.
    Raises : InputProblem with every fault of net.toml, roster.csv and the elevation tiles.
    """
    read = read_net_folder(folder)
    if net is not None:
        read = of_net(read, net)
    read = present(read, without=without)
    return Club(opened_with(read, open_terrain(read.net), basis=basis))
