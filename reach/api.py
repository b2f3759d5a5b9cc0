"""The whole job from a program or a notebook.

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

Results are frozen records: `reach.links.network` and `reach.links.path_study` for links, `reach.plans.relays`
for plans. All that can be wrong with what the user gave is a `ReachError` fit to be shown. A file that is
there is written over only when asked: `.save("simplex.html", existing=Existing.REPLACE)`.

A prediction is not a promise: test on the air before you rely on it. In danger call the emergency number
first.
"""

from __future__ import annotations

import html
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from reach.errors import ReachError
from reach.files import Existing, write_bytes, write_text
from reach.inputs.club import read_net
from reach.inputs.lookup import find_channel, find_repeaters
from reach.inputs.planning import PlanningRules, read_planning
from reach.links.assumed import assumed_notes
from reach.links.doubts import net_doubts
from reach.links.network import RepeaterNetwork, SimplexNetwork
from reach.links.outcome import outcome_sentence
from reach.links.path_study import PathStudy, study_path
from reach.links.paths import Progress
from reach.links.survey import survey_repeater, survey_simplex
from reach.links.words import path_sentence
from reach.stations import Net
from reach.terrain.tiles import Terrain

if TYPE_CHECKING:
    from reach.drawings.picture import MapPicture
    from reach.drawings.profile_plot import PictureForm
    from reach.plans.net_control import ControlChoice
    from reach.plans.relays import RelayPlan

__all__ = ["Club", "Existing", "MapPage", "PathPicture", "ReachError", "load"]


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


class Club:
    """A net folder read, with its terrain open. Close it, or use it in `with`.

    net : the record of everything in net.toml and roster.csv. rules : the net's planning rules.
    terrain : its elevation tiles.
    """

    def __init__(self, net: Net, terrain: Terrain, rules: PlanningRules | None = None) -> None:
        self.net = net
        self.terrain = terrain
        self.rules = rules if rules is not None else PlanningRules()
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
        from reach.plans.net_control import rank_controls
        from reach.plans.rules import rules_of

        return rank_controls(network, rules_of(self.rules))

    def plan(self, network: SimplexNetwork, *, control: str | None = None) -> RelayPlan:
        """The fewest relays under the best net control, or under the one named. Raises : NoPlan, KeyError."""
        from reach.plans.net_control import plan_best
        from reach.plans.relays import plan_relays
        from reach.plans.rules import rules_of

        rules = rules_of(self.rules)
        return plan_best(network, rules) if control is None else plan_relays(network, rules, control=control)

    def draw_simplex(self, network: SimplexNetwork, *, plan: RelayPlan | None = None) -> MapPage:
        """The simplex net on the club's own relief, with a plan's relays where one is given."""
        from reach.drawings.net_map import simplex_map
        from reach.drawings.plan_marks import marks_of

        headline = f"{self.net.name} on {network.channel.name}" if plan is None else plan.sentence
        marks = None if plan is None else marks_of(plan)
        return MapPage(
            simplex_map(
                network, headline=headline, relief=self._ground(), marks=marks, notes=assumed_notes(self.net)
            )
        )

    def draw_repeater(self, network: RepeaterNetwork) -> MapPage:
        """A repeater and its members on the club's own relief."""
        from reach.drawings.net_map import repeater_map

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
        from reach.drawings.ground import places_of, relief_around

        if self._relief is None:
            self._relief = relief_around(self.terrain, places_of(self.net))
        return self._relief


def load(folder: str | Path) -> Club:
    """Read a net folder and open its terrain.

    Raises : InputProblem with every fault of the folder's files and tiles.
    """
    folder = Path(folder)
    net = read_net(folder)
    rules = read_planning(folder)
    return Club(net, Terrain.open(net.terrain_folders, elevation_unit=net.elevation_unit), rules)
