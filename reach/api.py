"""The whole job from a program or a notebook.

    import datetime

    import reach.api

    with reach.api.load("our-net") as club:
        simplex = club.simplex()                                  # who hears whom
        plan = club.plan(simplex)                                 # net control and relays
        print(plan.sentence)
        club.draw_simplex(simplex, plan=plan).save("simplex.html")
        reached = club.repeater()                                 # who gets in, who hears
        club.draw_repeater(reached).save("repeater.html")
        study = club.path("QK1ABC", "QK2DEF")                     # one path, line by line
        club.draw_path(study).save("path.png")
        print(club.forecast(plan, simplex, seed=1).sentence)      # how many will check in
        print(club.what_if(["QK2DEF antenna 6 dBd"], plan=plan).sentence)
        club.sheet(plan, simplex, date="Tue 1 December").save("sheet.pdf")   # or .html, .txt
        for turn in club.rota(simplex, start=datetime.date(2026, 12, 1), count=4):
            print(turn.start, turn.control, turn.stand_in)

Results are frozen records: `reach.links.network` and `reach.links.path_study` for links,
`reach.plans.relays.plan`
for plans. All that can be wrong with what the user gave is a `ReachError` fit to be shown. A file that is
there is written over only when asked: `.save("simplex.html", existing=Existing.REPLACE)`.

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
from typing import TYPE_CHECKING

from reach.errors import InputProblem, OutputProblem, ReachError
from reach.files import Existing, write_bytes, write_text
from reach.inputs.club import read_net
from reach.inputs.lookup import find_channel, find_repeaters, find_station
from reach.inputs.planning import PlanningRules, Schedule, read_planning, read_schedule
from reach.inputs.text_files import read_text_file
from reach.links.assumed import assumed_notes
from reach.links.doubts import net_doubts
from reach.links.misplaced import misplaced
from reach.links.network import RepeaterNetwork, SimplexNetwork
from reach.links.outcome import outcome_sentence
from reach.links.path_study import PathStudy, study_path
from reach.links.paths import Progress
from reach.links.survey import survey_repeater, survey_simplex
from reach.links.words import path_sentence
from reach.stations import Net
from reach.terrain.tiles import Terrain

if TYPE_CHECKING:
    from reach.drawings.maps.picture import MapPicture
    from reach.drawings.papers.paper import Paper
    from reach.drawings.papers.run_sheet import RunSheet
    from reach.drawings.profile_plot import PictureForm
    from reach.plans.relays.forecast import CheckInForecast
    from reach.plans.relays.net_control import ControlChoice
    from reach.plans.relays.plan import RelayPlan
    from reach.plans.relays.rota import Turn
    from reach.plans.relays.what_if import Difference

__all__ = ["Club", "Existing", "MapPage", "PathPicture", "ReachError", "SheetPaper", "WhatIf", "load"]


@dataclass(frozen=True)
class MapPage:
    """A map as one HTML page that needs no network. A notebook shows it in a frame."""

    page: str

    def save(self, file: str | Path, *, existing: Existing = Existing.KEEP) -> Path:
        """Write it, whole or not at all. Returns the path. Raises : OutputProblem."""
        write_text(Path(file), self.page, existing)
        return Path(file)

    def _repr_html_(self) -> str:
        return f'<iframe srcdoc="{html.escape(self.page)}" style="width:100%;height:640px;border:0"></iframe>'


@dataclass(frozen=True)
class PathPicture:
    """A path profile as a picture; `form` is png, svg or pdf. A notebook shows PNG and SVG."""

    data: bytes
    form: str

    def save(self, file: str | Path, *, existing: Existing = Existing.KEEP) -> Path:
        """Write it, whole or not at all. Returns the path. Raises : OutputProblem."""
        write_bytes(Path(file), self.data, existing)
        return Path(file)

    def _repr_png_(self) -> bytes | None:
        return self.data if self.form == "png" else None

    def _repr_svg_(self) -> str | None:
        return self.data.decode("utf-8") if self.form == "svg" else None


@dataclass(frozen=True)
class SheetPaper:
    """A run sheet ready for paper; `sheet` holds its words. A notebook shows it as a page."""

    sheet: RunSheet

    @property
    def text(self) -> str:
        """As plain text."""
        from reach.drawings.papers.run_sheet import sheet_text

        return sheet_text(self.sheet)

    def save(
        self, file: str | Path, *, paper: Paper | None = None, existing: Existing = Existing.KEEP
    ) -> Path:
        """Write it as .pdf, .html or .txt, by the file's ending; paper : of the PDF, A4 unless given.

        Returns the path. Raises : OutputProblem, for another ending too.
        """
        from reach.drawings.papers.paper import Paper
        from reach.drawings.papers.sheet_page import sheet_page
        from reach.drawings.papers.sheet_pdf import sheet_pdf

        path = Path(file)
        ending = path.suffix.lower()
        if ending == ".pdf":
            write_bytes(path, sheet_pdf(self.sheet, paper or Paper.A4), existing)
        elif ending == ".html":
            write_text(path, sheet_page(self.sheet), existing)
        elif ending == ".txt":
            write_text(path, self.text, existing)
        else:
            raise OutputProblem(f"{path}: a run sheet is written as .pdf, .html or .txt; choose one.")
        return path

    def _repr_html_(self) -> str:
        from reach.drawings.papers.sheet_page import sheet_page

        page = html.escape(sheet_page(self.sheet))
        return f'<iframe srcdoc="{page}" style="width:100%;height:640px;border:0"></iframe>'


@dataclass(frozen=True)
class WhatIf:
    """What a change would change. plan, network : with it; sentence : the answer."""

    plan: RelayPlan
    network: SimplexNetwork
    differences: tuple[Difference, ...]
    sentence: str


class Club:
    """A net folder read, with its terrain open. Close it, or use it in `with`.

    net : the record of everything in net.toml and roster.csv. rules : the net's planning rules.
    terrain : its elevation tiles. schedule : when the net meets, None when it does not say. script : its
    own wording of the run sheet, None for the built-in one.
    """

    def __init__(
        self, net: Net, terrain: Terrain, rules: PlanningRules | None = None, *,
        schedule: Schedule | None = None, script: str | None = None,
    ) -> None:  # fmt: skip
        self.net = net
        self.terrain = terrain
        self.rules = rules if rules is not None else PlanningRules()
        self.schedule = schedule
        self.script = script
        self._relief: MapPicture | None = None

    def __enter__(self) -> Club:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the terrain's files."""
        self.terrain.close()

    @property
    def notes(self) -> tuple[str, ...]:
        """What was assumed and what to beware of, in plain words."""
        return (*assumed_notes(self.net), *net_doubts(self.net), *self.terrain.warnings)

    def simplex(self, channel: str | None = None, *, progress: Progress | None = None) -> SimplexNetwork:
        """Every pair of members both ways on a simplex channel, by name; the net's first unless named.

        Raises : InputProblem for an unknown channel; MissingTerrain; OutOfRange.
        """
        return survey_simplex(self.net, self.terrain, find_channel(self.net, channel), progress=progress)

    def repeater(self, call_sign: str | None = None, *, progress: Progress | None = None) -> RepeaterNetwork:
        """Every member against a repeater, both ways; the net's first unless named.

        Raises : InputProblem for an unknown repeater, or none at all; MissingTerrain; OutOfRange.
        """
        repeater = find_repeaters(self.net, [] if call_sign is None else [call_sign])[0]
        return survey_repeater(self.net, self.terrain, repeater, progress=progress)

    def path(self, left: str, right: str, *, channel: str | None = None) -> PathStudy:
        """One path line by line, between two members or a member and a repeater, by call sign.

        Raises : InputProblem, MissingTerrain, OutOfRange.
        """
        on = find_channel(self.net, channel)
        return study_path(self.net, self.terrain, left=left, right=right, channel=on)

    def controls(self, network: SimplexNetwork) -> tuple[ControlChoice, ...]:
        """Every willing net control, best first. Raises : NoPlan."""
        from reach.plans.relays.net_control import rank_controls
        from reach.plans.relays.rules import rules_of

        return rank_controls(network, rules_of(self.rules))

    def plan(self, network: SimplexNetwork, *, control: str | None = None) -> RelayPlan:
        """The fewest relays under the best net control, or under the one named.

        Raises : NoPlan; InputProblem for an unknown call sign.
        """
        from reach.plans.relays.net_control import plan_best
        from reach.plans.relays.plan import plan_relays
        from reach.plans.relays.rules import rules_of

        rules = rules_of(self.rules)
        if control is None:
            return plan_best(network, rules)
        return plan_relays(network, rules, control=find_station(network.net, control).call_sign)

    def forecast(
        self, plan: RelayPlan, network: SimplexNetwork, *, seed: int, evenings: int = 10_000
    ) -> CheckInForecast:
        """Check-ins over that many simulated evenings, with and without relays. network : the plan's own."""
        from reach.plans.relays.forecast import forecast_check_ins

        return forecast_check_ins(plan, network, seed=seed, evenings=evenings)

    def what_if(
        self, changes: Sequence[str], *, plan: RelayPlan, control: str | None = None,
        channel: str | None = None, progress: Progress | None = None,
    ) -> WhatIf:  # fmt: skip
        """Plan again with changes such as "without QK1ABC" or "QK1ABC height 15 m", and tell the difference.

        plan : as it is now. control : keep this net control; the best one unless given. The net folder and
        this club stay as they are.
        Raises : InputProblem for a change or call sign that cannot be understood; NoPlan; MissingTerrain.
        """
        from reach.inputs.changes import changed_net
        from reach.plans.relays.what_if import difference_sentence, plan_differences

        changed = changed_net(self.net, changes)
        network = survey_simplex(changed, self.terrain, find_channel(changed, channel), progress=progress)
        after = self.plan(network, control=control)
        found = plan_differences(plan, after)
        return WhatIf(after, network, found, difference_sentence(found, after))

    def rota(
        self, network: SimplexNetwork, *, start: datetime.date, count: int = 8,
        until: datetime.date | None = None, fit: float = 0.8, last: str = "",
    ) -> tuple[Turn, ...]:  # fmt: skip
        """Net controls of the coming nets on or after `start`, by [schedule] of net.toml.

        fit : share of what the best hears that one must hear to take a turn, 0 to 1. last : who controlled
        the net before. Raises : InputProblem without a schedule or when it gives no date; NoPlan.
        """
        from reach.plans.relays.rota import net_dates, no_schedule, rota

        if self.schedule is None:
            raise no_schedule()
        before = find_station(self.net, last).call_sign if last else ""
        dates = net_dates(self.schedule, start=start, count=count, until=until)
        return rota(self.controls(network), dates, share=fit, last=before)

    def sheet(
        self, plan: RelayPlan, network: SimplexNetwork, *, date: str = "", time: str = "",
        repeaters: Sequence[RepeaterNetwork] = (),
    ) -> SheetPaper:  # fmt: skip
        """The sheet net control runs the net from. network : the plan's own.

        date, time : in words, '' to leave room for the pen. repeaters : for whom to ask to stay on.
        Raises : InputProblem for a script that does not work.
        """
        from reach.drawings.papers.run_sheet import Occasion, run_sheet
        from reach.plans.relays.evening import plan_evening

        others = (c.call_sign for c in self.controls(network) if c.call_sign != plan.control)
        net = network.net
        made_from = (
            f"Planned for {net.name} ({len(net.stations)} stations) with path-loss model"
            f" {network.model or net.model}; a link counts from {plan.rules.threshold.words}."
        )
        return SheetPaper(
            run_sheet(
                net,
                plan,
                network.channel,
                Occasion(made_from=made_from, date=date, time=time, stand_in=next(others, "")),
                script=self.script,
                evening=plan_evening(plan, repeaters) if repeaters else None,
                repeaters=net.repeaters,
            )
        )

    def draw_simplex(self, network: SimplexNetwork, *, plan: RelayPlan | None = None) -> MapPage:
        """The simplex net on the club's own relief, with a plan's relays where one is given."""
        from reach.drawings.maps.net_map import simplex_map
        from reach.drawings.maps.plan_marks import marks_of

        headline = f"{self.net.name} on {network.channel.name}" if plan is None else plan.sentence
        marks = None if plan is None else marks_of(plan)
        return MapPage(
            simplex_map(
                network, headline=headline, relief=self._ground(), marks=marks, notes=assumed_notes(self.net)
            )
        )

    def draw_repeater(self, network: RepeaterNetwork) -> MapPage:
        """A repeater and its members on the club's own relief."""
        from reach.drawings.maps.net_map import repeater_map

        return MapPage(
            repeater_map(
                network,
                headline=outcome_sentence(network),
                relief=self._ground(),
                notes=assumed_notes(self.net),
            )
        )

    def draw_path(self, study: PathStudy, *, form: PictureForm | None = None) -> PathPicture:
        """The path's profile with sight line, first Fresnel zone and earth curvature; PNG unless named."""
        from reach.drawings.profile_plot import PathDrawing, PictureForm, profile_picture

        chosen = PictureForm.PNG if form is None else form
        drawing = PathDrawing(
            profile=study.profile,
            left_height_m=study.left.antenna.height_m,
            right_height_m=study.right.antenna.height_m,
            there=study.there,
            back=study.back,
            clearance=study.clearance,
            k_factor=study.net.k_factor,
        )
        headline = path_sentence(study.there, study.back)
        return PathPicture(profile_picture(drawing, headline=headline, form=chosen), chosen.value)

    def _ground(self) -> MapPicture:
        from reach.drawings.maps.ground import places_of, relief_around

        if self._relief is None:
            self._relief = relief_around(self.terrain, places_of(self.net))
        return self._relief


def load(folder: str | Path) -> Club:
    """Read a net folder and open its terrain.

    Raises : InputProblem with every fault of the folder's files and tiles.
    """
    from reach.drawings.papers.run_sheet import SCRIPT_FILE

    folder = Path(folder)
    net = read_net(folder)
    rules = read_planning(folder)
    schedule = read_schedule(folder)
    own_words = folder / SCRIPT_FILE
    script = read_text_file(own_words) if own_words.exists() else None
    terrain = Terrain.open(net.terrain_folders, elevation_unit=net.elevation_unit)
    if faults := misplaced(net, terrain):
        terrain.close()
        raise InputProblem(faults)
    return Club(net, terrain, rules, schedule=schedule, script=script)
