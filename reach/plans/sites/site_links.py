"""A chosen site's links, path by path with the net's own model: what the search predicted, checked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from reach.coverage.search.member_layer import MarginRule, SiteChannels
from reach.links.network import DirectedLink, SimplexNetwork
from reach.links.survey import survey_simplex
from reach.machinery.progress import Progress
from reach.plans.sites.portable_sites import Site
from reach.stations import Net, Station
from reach.terrain.tiles import Terrain


@dataclass(frozen=True)
class SiteLink:
    """One member and one site, path by path. talk_in : the site hears the member; talk_out : the reverse."""

    call_sign: str
    talk_in: DirectedLink
    talk_out: DirectedLink
    works: bool

    @property
    def weaker(self) -> DirectedLink:
        """The direction with less margin."""
        return min(self.talk_in, self.talk_out, key=lambda link: link.margin_db)

    @property
    def chance(self) -> float:
        """Of both directions; one path, so the weaker decides."""
        return min(self.talk_in.chance, self.talk_out.chance)


@dataclass(frozen=True)
class SiteLinks:
    """A site's links by the net's own path model, strongest first.

    lost : members the sweep counted and the single paths do not; gained : the reverse.
    other_sites : names of the sites it works both ways on the same channel.
    """

    site: Site
    name: str
    links: tuple[SiteLink, ...]
    lost: tuple[str, ...]
    gained: tuple[str, ...]
    other_sites: tuple[str, ...] = ()

    @property
    def works(self) -> tuple[str, ...]:
        """Members it works both ways, strongest first."""
        return tuple(link.call_sign for link in self.links if link.works)


def survey_sites(
    sites: Sequence[Site],
    names: Sequence[str],
    station: Station,
    channels: SiteChannels,
    rule: MarginRule,
    net: Net,
    terrain: Terrain,
    *,
    progress: Progress | None = None,
) -> tuple[SiteLinks, ...]:
    """Every member against every site, path by path with the net's own model and land cover.

    names : of the sites, all different, none of them a member's call sign.

    Raises : MissingTerrain, OutOfRange.
    """
    members = tuple(s for s in net.stations if s.has_radio_path)
    put = tuple(
        replace(station, call_sign=name.upper(), position=site.position) for name, site in zip(names, sites)
    )
    wider = replace(net, stations=(*members, *put))
    listening = survey_simplex(wider, terrain, channels.listen, progress=progress)
    talking = (
        survey_simplex(wider, terrain, channels.talk, progress=progress) if channels.is_pair else listening
    )
    found = []
    for name, site, own in zip(names, sites, put):
        links = []
        for member in members:
            talk_in = listening.link(member.call_sign, own.call_sign)
            talk_out = talking.link(own.call_sign, member.call_sign)
            links.append(
                SiteLink(
                    member.call_sign, talk_in, talk_out, _counts(talk_in, rule) and _counts(talk_out, rule)
                )
            )
        links.sort(key=lambda link: (-link.weaker.margin_db, link.call_sign))
        works = {link.call_sign for link in links if link.works}
        found.append(
            SiteLinks(
                site,
                name,
                tuple(links),
                tuple(sorted(set(site.reaches) - works)),
                tuple(sorted(works - set(site.reaches))),
                tuple(
                    other_name
                    for other_name, other in zip(names, put)
                    if other is not own and not channels.is_pair and _both(listening, own, other, rule)
                ),
            )
        )
    return tuple(found)


def _counts(link: DirectedLink, rule: MarginRule) -> bool:
    needed = float(rule.needed_margin_db(np.array([link.sigma_db]))[0])
    return link.margin_db >= needed


def _both(network: SimplexNetwork, a: Station, b: Station, rule: MarginRule) -> bool:
    return _counts(network.link(a.call_sign, b.call_sign), rule) and _counts(
        network.link(b.call_sign, a.call_sign), rule
    )
