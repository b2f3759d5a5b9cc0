"""A chosen site's links, path by path with the net's own model: what the search predicted, checked."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.coverage.search.member_layer import MarginRule, SiteChannels
from reach.geodesy import distance_and_bearing
from reach.links.network import DirectedLink, SimplexNetwork, chance_both_directions
from reach.machinery.progress import Progress
from reach.plans.sites.portable_sites import LinkTask, Site
from reach.stations import Channel, Net, Station


@dataclass(frozen=True)
class SiteLink:
    """One member and one site, path by path. talk_in : the site hears the member; talk_out : the reverse.

    chance : of both directions (see `chance_both_directions`).
    """

    call_sign: str
    talk_in: DirectedLink
    talk_out: DirectedLink
    works: bool
    chance: float

    @property
    def weaker(self) -> DirectedLink:
        """The direction with less margin."""
        return min(self.talk_in, self.talk_out, key=lambda link: link.margin_db)


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


Wanted = Callable[[Station, Station], bool]
Survey = Callable[[Net, Channel, Wanted | None], SimplexNetwork]
SITES_AT_ONCE = 100  # the matrices of a survey grow with the square of its stations


def survey_each_site(
    sites: Sequence[Site],
    station: Station,
    channels: SiteChannels,
    rule: MarginRule,
    net: Net,
    survey: Survey,
    *,
    progress: Progress | None = None,
) -> tuple[SiteLinks, ...]:
    """Every member against every site, as survey_sites, but no site against another. Raises : as there."""
    found: list[SiteLinks] = []
    members = frozenset(s.call_sign for s in net.stations)
    for start in range(0, len(sites), SITES_AT_ONCE):
        some = sites[start : start + SITES_AT_ONCE]

        def wanted(one: Station, other: Station) -> bool:
            return (one.call_sign in members) is not (other.call_sign in members)

        names = [f"site {start + k}" for k in range(len(some))]
        found += _surveyed(some, names, station, channels, rule, net, survey, wanted=wanted)
        if progress is not None:
            progress(len(found), len(sites))
    return tuple(found)


def survey_sites(
    sites: Sequence[Site],
    names: Sequence[str],
    station: Station,
    channels: SiteChannels,
    rule: MarginRule,
    net: Net,
    survey: Survey,
) -> tuple[SiteLinks, ...]:
    """Every member against every site, path by path with the net's own model and land cover.

    names : of the sites, all different, none of them a member's call sign. survey : how a net with the sites
    in it is surveyed. Raises : MissingTerrain, OutOfRange.
    """
    return _surveyed(sites, names, station, channels, rule, net, survey, wanted=None)


def _surveyed(
    sites: Sequence[Site], names: Sequence[str], station: Station, channels: SiteChannels, rule: MarginRule,
    net: Net, survey: Survey, *, wanted: Wanted | None,
) -> tuple[SiteLinks, ...]:  # fmt: skip
    members = tuple(s for s in net.stations if s.has_radio_path)
    put = tuple(
        replace(station, call_sign=name.upper(), position=site.position) for name, site in zip(names, sites)
    )
    wider = replace(net, stations=(*members, *put))
    listening = survey(wider, channels.listen, wanted)
    talking = survey(wider, channels.talk, wanted) if channels.is_pair else listening
    hears, talks = _counts(listening, rule), _counts(talking, rule)
    both = None if channels.is_pair else listening.chance_both_ways
    found = []
    for name, site, own in zip(names, sites, put):
        links = []
        at = listening.index(own.call_sign)
        for member in members:
            j = listening.index(member.call_sign)
            talk_in = listening.link(member.call_sign, own.call_sign)
            talk_out = talking.link(own.call_sign, member.call_sign)
            chance = chance_both_directions(talk_in, talk_out) if both is None else float(both[j, at])
            links.append(
                SiteLink(member.call_sign, talk_in, talk_out, bool(hears[j, at] and talks[at, j]), chance)
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
                    if wanted is None
                    and other is not own
                    and not channels.is_pair
                    and hears[at, other_at := listening.index(other.call_sign)]
                    and hears[other_at, at]
                ),
            )
        )
    return tuple(found)


def stand_apart(sites: Sequence[SiteLinks], apart_m: float) -> bool:
    """Whether no two of some sites stand in one cell, or nearer to each other than apart_m."""
    for number, one in enumerate(sites):
        for other in sites[:number]:
            a, b = one.site.position, other.site.position
            length_m, _ = distance_and_bearing(
                from_latitude_deg=a.latitude_deg,
                from_longitude_deg=a.longitude_deg,
                to_latitude_deg=b.latitude_deg,
                to_longitude_deg=b.longitude_deg,
            )
            if one.site.cell == other.site.cell or float(length_m) < apart_m:
                return False
    return True


def hang_together(task: LinkTask, sites: Sequence[SiteLinks]) -> bool:
    """Whether each of some sites shares a member (a group, for GROUPS) with another, in one whole."""

    def met(site: SiteLinks) -> frozenset[object]:
        if task.groups:
            return frozenset(k for k, group in enumerate(task.groups) if set(group) & set(site.works))
        return frozenset(site.works)

    sets = [met(site) for site in sites]
    reached, rest = sets[0], sets[1:]
    while rest:
        near = [own for own in rest if own & reached]
        if not near:
            return False
        reached = reached.union(*near)
        rest = [own for own in rest if not own & reached]
    return True


def _counts(network: SimplexNetwork, rule: MarginRule) -> NDArray[np.bool_]:
    """(n, n) [tx, rx] which directions count."""
    counts: NDArray[np.bool_] = network.margin_db >= rule.needed_margin_db(network.sigma_db)
    return counts
