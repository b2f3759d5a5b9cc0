"""One path looked at closely: ground, clearance, both directions line by line, every model side by side."""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import nullcontext
from dataclasses import dataclass, replace

from reach.errors import Fault, InputProblem, OutOfRange
from reach.inputs.bands import band_name, works_on
from reach.inputs.lookup import find_party
from reach.links.budget import LinkBudget
from reach.links.exposure import KeepAway, keep_away_m
from reach.links.link_budgets import repeater_budgets, simplex_budget
from reach.links.network import DirectedLink
from reach.links.paths import lands_m, path_end, shortest_path_m
from reach.links.repeater_survey import survey_repeater
from reach.links.survey import net_model, survey_simplex
from reach.notes import Note
from reach.propagation.choose import MODEL_NAMES, model_named
from reach.propagation.clearance import PathClearance, clearance
from reach.propagation.models import LandSight
from reach.propagation.path_kind import KIND_SIGMA_DB, MODELS_APART_DB, PathKind
from reach.stations import Channel, Net, Polarisation, Repeater, Station
from reach.terrain.clutter import LandCover
from reach.terrain.profile import Profile
from reach.terrain.sampling import sample_profile
from reach.terrain.tiles import Terrain


@dataclass(frozen=True)
class ModelFigure:
    """What one model says of the path. loss_db : NaN when it refuses, `note` then says why.

    complete, sees : see `PathLossModel`.
    """

    name: str
    summary: str
    loss_db: float
    over_free_space_db: float
    is_net_choice: bool
    note: str = ""
    complete: bool = False
    sees: LandSight = LandSight.PATH


@dataclass(frozen=True)
class ModelSpread:
    """Lowest and highest loss among the complete models that reach this frequency, dB, and which say so.

    Those that see what stands round the antennas are left out: their difference is the land, not a doubt.
    """

    models: tuple[str, ...]
    lowest: str
    lowest_db: float
    highest: str
    highest_db: float
    spread_db: float
    note: str = ""

    @property
    def sentence(self) -> str:
        """The spread for people, and whether the chance of the link allows for it."""
        said = (
            f"Over the same ground the complete models ({', '.join(self.models)}) differ by "
            f"{self.spread_db:.0f} dB: {self.lowest_db:.0f} dB by {self.lowest}, {self.highest_db:.0f} dB "
            f"by {self.highest}."
        )
        if self.note:
            said += f" {self.note}"
        if self.spread_db > MODELS_APART_DB:
            said += (
                " Where ITM and P.1812 are so far apart the chance allows "
                f"{KIND_SIGMA_DB[PathKind.MODELS_APART]:.0f} dB for the path alone: test this path before "
                "you count on it."
            )
        return said


@dataclass(frozen=True)
class PathStudy:
    """A path from `left` to `right`, all at `frequency_mhz` but for a repeater's other frequency.

    there : how right hears left; back : how left hears right; *_budget : the same line by line.
    models : every model at `frequency_mhz`, plainest first; none for stations too close for the net's own,
        whose loss is that of free space.
    """

    net: Net
    left: Station | Repeater
    right: Station | Repeater
    frequency_mhz: float
    profile: Profile
    clearance: PathClearance
    there: DirectedLink
    back: DirectedLink
    there_budget: LinkBudget
    back_budget: LinkBudget
    models: tuple[ModelFigure, ...]
    warnings: tuple[Note, ...]

    @property
    def keep_away(self) -> tuple[KeepAway, KeepAway]:
        """How far people must stay from the left and the right antenna while it transmits."""
        return (_keep_away(self.there_budget), _keep_away(self.back_budget))

    @property
    def models_spread(self) -> ModelSpread | None:
        """How far the models that count terrain, curvature and ground differ; None with fewer than two.

        Free space sees no terrain and the models of edges alone no curvature or too many edges: they are
        listed to learn from, and their figures say nothing of how sure the loss is.
        """
        complete = [
            m
            for m in self.models
            if m.complete and m.sees is not LandSight.ENDS and not math.isnan(m.loss_db)
        ]
        if len(complete) < 2:
            return None
        lowest = min(complete, key=lambda m: (m.loss_db, m.name))
        highest = max(complete, key=lambda m: (m.loss_db, m.name))
        return ModelSpread(
            models=tuple(m.name for m in complete),
            lowest=lowest.name,
            lowest_db=lowest.loss_db,
            highest=highest.name,
            highest_db=highest.loss_db,
            spread_db=highest.loss_db - lowest.loss_db,
            note="itm leaves the land cover out." if self.net.land_cover is not None else "",
        )


def study_path(
    net: Net,
    terrain: Terrain,
    *,
    left: str,
    right: str,
    channel: Channel | None = None,
    models: Sequence[str] = MODEL_NAMES,
) -> PathStudy:
    """The path between two members on a simplex channel, or between a member and a repeater.

    left, right : call signs, any case. channel : None takes the net's first.
    models : names of those to set side by side; each costs a few seconds the first time it is ever used.
    Raises : InputProblem for a call sign nobody has, two repeaters, the same one twice or a member without a
        radio path; MissingTerrain; OutOfRange.
    """
    a, b = _party(net, left), _party(net, right)
    if a.call_sign == b.call_sign:
        raise _problem(f"{a.call_sign} to itself is no path", "give two call signs")
    if isinstance(a, Repeater) and isinstance(b, Repeater):
        raise _problem(f"{a.call_sign} and {b.call_sign} are both repeaters", "give a member and a repeater")
    on = channel or net.channels[0]
    used = next(([p.input_mhz, p.output_mhz] for p in (a, b) if isinstance(p, Repeater)), [on.frequency_mhz])
    for party in (a, b):
        if isinstance(party, Station) and not works_on(party, *used):
            raise _problem(
                f"{party.call_sign} has no radio for {band_name(used[0])}, only for {', '.join(party.bands)}",
                "choose another member or channel",
            )
    if isinstance(a, Repeater) or isinstance(b, Repeater):
        there, back, there_budget, back_budget, warnings = _with_repeater(net, terrain, a, b)
        polarisation = Polarisation.VERTICAL
    else:
        network = survey_simplex(replace(net, stations=(a, b)), terrain, on)
        there, back = network.link(a.call_sign, b.call_sign), network.link(b.call_sign, a.call_sign)
        there_budget = simplex_budget(network, tx=a.call_sign, rx=b.call_sign)
        back_budget = simplex_budget(network, tx=b.call_sign, rx=a.call_sign)
        warnings, polarisation = network.warnings, on.polarisation
    with (
        nullcontext()
        if net.land_cover is None
        else LandCover(net.land_cover, overrides=net.clutter_heights_m) as land_cover
    ):
        profile = sample_profile(
            terrain, a.position, b.position, label=(a.call_sign, b.call_sign), land_cover=land_cover
        )
        land_m = tuple(float(m[0]) for m in lands_m([(path_end(a), path_end(b))], land_cover))
    heights_m = (a.antenna.height_m, b.antenna.height_m)
    return PathStudy(
        net=net,
        left=a,
        right=b,
        frequency_mhz=there.frequency_mhz,
        profile=profile,
        clearance=clearance(
            profile,
            tx_height_m=heights_m[0],
            rx_height_m=heights_m[1],
            frequency_mhz=there.frequency_mhz,
            k_factor=net.k_factor,
        ),
        there=there,
        back=back,
        there_budget=there_budget,
        back_budget=back_budget,
        models=()
        if there.distance_m < shortest_path_m(net_model(net, there.frequency_mhz))
        else _side_by_side(net, profile, heights_m, land_m, there.frequency_mhz, polarisation, models),
        warnings=warnings,
    )


def _keep_away(budget: LinkBudget) -> KeepAway:
    eirp_dbm = budget.exposure_eirp_dbm
    distance_m = keep_away_m(eirp_dbm=eirp_dbm, frequency_mhz=budget.frequency_mhz)
    return KeepAway(budget.tx, distance_m, eirp_dbm, budget.frequency_mhz)


def _party(net: Net, call_sign: str) -> Station | Repeater:
    party = find_party(net, call_sign)
    if isinstance(party, Station) and not party.has_radio_path:
        raise _problem(
            f"{party.call_sign} is linked over the internet and has no radio path", "choose another member"
        )
    return party


def _problem(problem: str, fix: str) -> InputProblem:
    return InputProblem(Fault(problem, fix))


def _with_repeater(
    net: Net, terrain: Terrain, a: Station | Repeater, b: Station | Repeater
) -> tuple[DirectedLink, DirectedLink, LinkBudget, LinkBudget, tuple[Note, ...]]:
    member, repeater = (b, a) if isinstance(a, Repeater) else (a, b)
    assert isinstance(member, Station)
    assert isinstance(repeater, Repeater)
    network = survey_repeater(replace(net, stations=(member,)), terrain, repeater)
    found = network.member(member.call_sign)
    talk_in, talk_out = repeater_budgets(network, member.call_sign)
    if member is a:
        return found.talk_in, found.talk_out, talk_in, talk_out, network.warnings
    return found.talk_out, found.talk_in, talk_out, talk_in, network.warnings


def _side_by_side(
    net: Net,
    profile: Profile,
    heights_m: tuple[float, float],
    land_m: tuple[float, ...],
    frequency_mhz: float,
    polarisation: Polarisation,
    models: Sequence[str],
) -> tuple[ModelFigure, ...]:
    chosen = net_model(net, frequency_mhz)
    figures = []
    for name in models:
        plain = model_named(name)
        figure = ModelFigure(
            name, plain.summary, math.nan, math.nan, name == chosen.name, "", plain.complete, plain.sees
        )
        try:
            model = net_model(replace(net, model=name), frequency_mhz)
            found = model.loss(
                profile,
                tx_height_m=float(model.limits.worked_height_m(heights_m[0])),
                rx_height_m=float(model.limits.worked_height_m(heights_m[1])),
                frequency_mhz=frequency_mhz,
                polarisation=polarisation,
                tx_land_m=land_m[0],
                rx_land_m=land_m[1],
            )
        except OutOfRange as refusal:
            figures.append(replace(figure, note=str(refusal)))
            continue
        figures.append(
            replace(
                figure,
                summary=model.summary,
                loss_db=found.loss_db,
                over_free_space_db=found.loss_db - found.free_space_db,
                note="; ".join(found.warnings),
            )
        )
    return tuple(figures)
