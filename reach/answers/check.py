"""Is this net ready to be planned? Faults, members, defaults used, elevation needed."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from reach.answers.equipment_rows import equipment_rows, owners
from reach.answers.open_net import model_fault
from reach.answers.record import Answer
from reach.errors import InputProblem, ReachError
from reach.inputs.net_folder import NetFolder
from reach.inputs.nets import ClubNet
from reach.inputs.planning import PlanningRules
from reach.links.doubts import net_doubts
from reach.links.misplaced import misplaced
from reach.lists import counted, named
from reach.notes import texts
from reach.propagation.choose import choose_model
from reach.stations import Net, Position
from reach.terrain.cells import needed_cells
from reach.terrain.sampling import PathGap, missing_cells_of, path_gaps
from reach.terrain.tiles import Terrain

MOST_NAMED = 12


@dataclass(frozen=True)
class Tiles:
    """The elevation tiles there are. finest_m, coarsest_m : their pixel sizes; 0 without any."""

    count: int = 0
    finest_m: float = 0.0
    coarsest_m: float = 0.0


@dataclass(frozen=True)
class Ground:
    """What the elevation tiles give a net; fields as in CheckAnswer."""

    missing_cells: tuple[str, ...]
    ground_m: dict[str, float | None]
    tiles: Tiles = Tiles()
    warnings: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    elevation_fault: str = ""


@dataclass(frozen=True)
class CheckFigures:
    """A net for machines, with what a look at its folder finds; fields as in CheckAnswer.

    assumed : (what was taken, call signs it was taken for; empty for the net as a whole).
    """

    net: Net
    headline: str
    needed_cells: tuple[str, ...]
    missing_cells: tuple[str, ...]
    tiles: Tiles
    ground_m: dict[str, float | None]
    assumed: tuple[tuple[str, tuple[str, ...]], ...]
    warnings: tuple[str, ...]
    faults: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class CheckAnswer(Answer):
    """What a look at a net folder finds.

    needed_cells, missing_cells : one-degree cells by their south-west corner, as N42W072.
    elevation_fault : why the tiles cannot be read; empty when they can.
    ground_m : ground above sea level at each station and repeater by call sign, None where no tile knows.
    nets : the club's nets where it has several.
    taken : (what was assumed, call signs it was assumed for; empty for the net as a whole).
    faults : what stops a plan, one sentence each.
    """

    needed_cells: tuple[str, ...]
    missing_cells: tuple[str, ...]
    tiles: Tiles
    elevation_fault: str
    ground_m: dict[str, float | None]
    taken: tuple[tuple[str, tuple[str, ...]], ...]
    faults: tuple[str, ...]
    nets: tuple[ClubNet, ...] = ()

    @property
    def ready(self) -> bool:
        """Whether the net can be planned."""
        return not self.faults and not self.missing_cells

    @property
    def figures(self) -> CheckFigures:
        """As Answer.figures; they hold all that the answer says."""
        return CheckFigures(
            self.net,
            self.headline,
            self.needed_cells,
            self.missing_cells,
            self.tiles,
            self.ground_m,
            self.taken,
            self.warnings,
            self.faults,
        )


def check(folder: NetFolder) -> CheckAnswer:
    """Look a net folder through, its terrain too, without planning anything.

    Takes the folder as read and not an open net, as tiles that cannot be opened are part of the answer.
    """
    net = folder.net
    who = [(s.call_sign, s.position) for s in net.stations if s.has_radio_path]
    who += [(r.call_sign, r.position) for r in net.repeaters]
    ground = _ground(net, who)
    faults = texts(_model_faults(net), ground.faults)
    taken = _taken(net, folder.planning)
    return CheckAnswer(
        net=net,
        headline=_headline(net, ground.missing_cells, faults),
        assumed=tuple(_sentence(text, calls, most=len(calls)) for text, calls in taken),
        in_short=tuple(_in_short(net, text, calls) for text, calls in taken),
        warnings=texts(net_doubts(net), ground.warnings),
        rows=equipment_rows(net, ground.ground_m),
        needed_cells=needed_cells([position for _, position in who]),
        missing_cells=ground.missing_cells,
        tiles=ground.tiles,
        elevation_fault=ground.elevation_fault,
        ground_m=ground.ground_m,
        taken=taken,
        faults=faults,
        nets=folder.nets,
    )


def _model_faults(net: Net) -> list[str]:
    """Why the net's path-loss model cannot be used, on each frequency where it cannot."""
    if unknown := model_fault(net):
        return [str(unknown)]
    faults = []
    for frequency_mhz in sorted(
        {c.frequency_mhz for c in net.channels} | {r.output_mhz for r in net.repeaters}
    ):
        try:
            choose_model(net.model, frequency_mhz)
        except ReachError as problem:
            faults.append(f"net.toml, net.model: {problem}")
    return faults


def _ground(net: Net, who: Sequence[tuple[str, Position]]) -> Ground:
    """The tiles, and the ground under everyone on the air; what is wrong with them is part of it."""
    positions = [position for _, position in who]
    unknown: dict[str, float | None] = {call_sign: None for call_sign, _ in who}
    try:
        terrain = Terrain.open(net.terrain_folders, elevation_unit=net.elevation_unit)
    except InputProblem as problem:
        return Ground(
            needed_cells(positions), unknown, faults=_each(problem), elevation_fault=_each(problem)[0]
        )
    with terrain:
        sizes = [tile.resolution_m for tile in terrain.tiles]
        tiles = Tiles(len(sizes), min(sizes), max(sizes))
        # every path of every plan, sampled as the plans sample it; a lone station is a path to itself
        pairs = list(combinations(range(len(who)), 2)) or [(i, i) for i in range(len(who))]
        try:
            gaps = list(path_gaps(terrain, [(positions[a], positions[b]) for a, b in pairs]))
            heights = terrain.sample(
                [p.latitude_deg for p in positions], [p.longitude_deg for p in positions]
            )
        except InputProblem as problem:
            faults = _each(problem)
            return Ground((), unknown, tiles, terrain.warnings, faults, elevation_fault=faults[0])
        ground_m = {
            call_sign: None if math.isnan(height) else round(height, 1)
            for (call_sign, _), height in zip(who, heights.tolist())
        }
        nowhere = (
            f"{call_sign} stands where no tile has elevation; check the position or add the tile."
            for call_sign, height in ground_m.items()
            if height is None
        )
        warnings = (*terrain.warnings, *_gap_note(who, pairs, gaps), *nowhere)
        slips = tuple(str(fault) for fault in misplaced(net, terrain))
        return Ground(missing_cells_of(gaps), ground_m, tiles, warnings, slips)


def _gap_note(
    who: Sequence[tuple[str, Position]], pairs: Sequence[tuple[int, int]], gaps: Sequence[PathGap]
) -> tuple[str, ...]:
    """Which path first lacks ground, and how many do."""
    if not gaps:
        return ()
    first = gaps[0]
    a, b = pairs[first.path]
    return (
        f"{len(gaps)} of {len(pairs)} paths cross ground that no tile knows; the first, {who[a][0]} to "
        f"{who[b][0]}, {first.at_m / 1000.0:.1f} km along at {first.latitude_deg:.5f}, "
        f"{first.longitude_deg:.5f}.",
    )


def _each(problem: InputProblem) -> tuple[str, ...]:
    return tuple(str(fault) for fault in problem.faults)


def _headline(net: Net, missing: tuple[str, ...], faults: tuple[str, ...]) -> str:
    holds = f"{counted(len(net.stations), 'member')}, {counted(len(net.repeaters), 'repeater')}"
    if faults:
        return f"{net.name} is not ready: {counted(len(faults), 'fault')} to correct ({holds})."
    if missing:
        cells = named(missing, most=MOST_NAMED)
        return f"{net.name} is not ready: elevation is missing in {cells} ({holds})."
    return f"{net.name} is ready to plan: {holds}, all the elevation it needs is there."


def _taken(net: Net, planning: PlanningRules) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Each assumption once, with those it was made for; the net's own first, then the widest spread."""
    by_text: defaultdict[str, list[str]] = defaultdict(list)
    for owner in owners(net):
        for text in owner.assumed:
            by_text[text].append(owner.call_sign)
    spread = sorted(by_text.items(), key=lambda item: (-len(item[1]), item[0]))
    return (
        *((text, ()) for text in (*net.assumed, *planning.assumed)),
        *((text, tuple(calls)) for text, calls in spread),
    )


def _in_short(net: Net, text: str, calls: tuple[str, ...]) -> str:
    on_air = sum(station.has_radio_path for station in net.stations)
    if len(calls) >= on_air > 3:
        return f"{text}: all {len(calls)} on the air"
    return _sentence(text, calls, most=MOST_NAMED)


def _sentence(text: str, calls: tuple[str, ...], *, most: int) -> str:
    return f"{text}: {named(calls, most=most)}" if calls else text
