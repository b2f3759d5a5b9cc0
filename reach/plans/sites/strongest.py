"""Which of the sites that link the most is the strongest, by the net's own model, path by path.

The search counts who is linked and by how much the weakest is; two sets that link as many may still differ by
a member at a coin toss. So every contender is worked path by path, and what is sought is, in this order: the
most linked, the most expected to be heard, the site found first.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence

from reach.plans.sites.portable_sites import LinkTask, linked_by
from reach.plans.sites.site_links import SiteLinks

MOST_CHOICES = 20_000  # choices of sites tried all; more are improved one site at a time
Rank = tuple[int, float]


def expected_heard(task: LinkTask, sites: Sequence[SiteLinks]) -> float:
    """Expected number of the members linked that really are, each over the site that works it best."""
    linked = set(linked_by(task, [site.works for site in sites]))
    chances: dict[str, float] = {}
    for site in sites:
        for link in site.links:
            if link.works and link.call_sign in linked:
                chances[link.call_sign] = max(chances.get(link.call_sign, 0.0), link.chance)
    return sum(chances.values())


def rank_of(task: LinkTask, sites: Sequence[SiteLinks]) -> Rank:
    """How good a choice is: members linked, then expected to be heard; more is better."""
    return len(linked_by(task, [site.works for site in sites])), round(expected_heard(task, sites), 6)


def strongest_choice(
    task: LinkTask,
    contenders: Sequence[Sequence[SiteLinks]],
    allowed: Callable[[Sequence[SiteLinks]], bool],
) -> tuple[SiteLinks, ...]:
    """One of each row of contenders, whose first ones are the choice of the search.

    allowed : whether sites may be used together. Up to MOST_CHOICES choices are tried all; beyond them one
    site after the other is exchanged as long as that makes the choice better.
    """
    first = tuple(row[0] for row in contenders)
    count = 1
    for row in contenders:
        count *= len(row)
    if count <= MOST_CHOICES:
        best, rank = first, rank_of(task, first)
        for choice in itertools.product(*contenders):
            if (own := rank_of(task, choice)) > rank and allowed(choice):
                best, rank = choice, own
        return best
    best, rank, better = first, rank_of(task, first), True
    while better:
        better = False
        for place, row in enumerate(contenders):
            for site in row:
                choice = (*best[:place], site, *best[place + 1 :])
                if (own := rank_of(task, choice)) > rank and allowed(choice):
                    best, rank, better = choice, own, True
    return best


def grown_choice(
    task: LinkTask,
    sites: Sequence[SiteLinks],
    allowed: Callable[[Sequence[SiteLinks]], bool],
    *,
    count: int,
) -> tuple[SiteLinks, ...]:
    """The best single site, then one more after the other as long as each makes the choice better.

    So that several never link fewer than one of the same sites does. Ties : the site given first.
    """
    best: tuple[SiteLinks, ...] = (max(sites, key=lambda site: rank_of(task, [site])),)
    while len(best) < count:
        wider = [choice for site in sites if allowed(choice := (*best, site))]
        more = max(wider, key=lambda choice: rank_of(task, choice), default=best)
        if rank_of(task, more) <= rank_of(task, best):
            break
        best = more
    return best
