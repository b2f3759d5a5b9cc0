"""Who hears whom radio to radio, who should be net control, and who must relay for whom."""

from __future__ import annotations

from dataclasses import dataclass

from reach.answers.link_rows import simplex_rows
from reach.answers.open_net import OpenNet
from reach.answers.record import Answer
from reach.answers.rules import AS_WRITTEN, RuleChoice, chosen_rules
from reach.answers.sheet import Cell
from reach.answers.surveys import simplex_paths
from reach.answers.tonight import tonight_headline
from reach.errors import NoPlan
from reach.inputs.lookup import find_channel, find_station
from reach.links.assumed import assumed_in_short, assumed_notes
from reach.links.network import SimplexNetwork
from reach.machinery.progress import Watch, unwatched
from reach.notes import texts
from reach.plans.relays.net_control import ControlChoice, rank_controls
from reach.plans.relays.plan import RelayPlan, plan_relays
from reach.stations import Channel


@dataclass(frozen=True)
class SimplexFigures:
    """A simplex channel for machines: the ranking of net controls, the relay plan, a record a direction."""

    channel: str
    frequency_mhz: float
    headline: str
    controls: tuple[ControlChoice, ...]
    plan: RelayPlan | None
    links: tuple[dict[str, Cell], ...]


@dataclass(frozen=True, kw_only=True)
class SimplexAnswer(Answer):
    """network : every pair, both ways. controls : best first. plan : None where none can be made; the
    headline then says why."""

    network: SimplexNetwork
    controls: tuple[ControlChoice, ...]
    plan: RelayPlan | None

    @property
    def channel(self) -> Channel:
        """The channel the net is planned on."""
        return self.network.channel

    @property
    def figures(self) -> SimplexFigures:
        """As Answer.figures."""
        channel = self.channel
        return SimplexFigures(
            channel.name,
            channel.frequency_mhz,
            self.headline,
            self.controls,
            self.plan,
            self.rows.records,
        )


def simplex(
    opened: OpenNet,
    *,
    channel: str | None = None,
    control: str | None = None,
    choice: RuleChoice = AS_WRITTEN,
    watch: Watch = unwatched,
) -> SimplexAnswer:
    """The simplex net on a channel, by name or frequency; the net's first unless named.

    control : plan for this net control instead of the best one.
    Raises : InputProblem for what is not in the net; MissingTerrain; OutOfRange; NoPlan where a control was
    named, or fewer than two are on the air, and no plan can be made.
    """
    net = opened.net
    on = find_channel(net, channel)
    rules = chosen_rules(opened.folder, choice)
    named = None if control is None else find_station(net, control).call_sign
    network = simplex_paths(opened, on, watch=watch)
    controls: tuple[ControlChoice, ...] = ()
    plan: RelayPlan | None = None
    try:
        controls = rank_controls(network, rules)
        plan = plan_relays(network, rules, control=named or controls[0].call_sign)
        headline = plan.sentence
    except NoPlan as reason:
        on_air = sum(station.has_radio_path for station in net.stations)
        if named is not None or on_air < 2:
            raise
        headline = f"{str(reason)[0].upper()}{str(reason)[1:]}"
    return SimplexAnswer(
        net=net,
        headline=tonight_headline(net, headline),
        assumed=assumed_notes(net, net.stations),
        in_short=assumed_in_short(net, net.stations),
        warnings=texts(opened.warnings, network.warnings),
        rows=simplex_rows(network),
        network=network,
        controls=controls,
        plan=plan,
    )
