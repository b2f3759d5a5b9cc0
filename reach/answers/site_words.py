"""What a search for relay sites says in sentences: the answer, what it rests on, what to beware of."""

from __future__ import annotations

from collections.abc import Sequence

from reach.coverage.area.sites import COVER_WORDS, MODEL_WORDS
from reach.coverage.search.grid import Candidates
from reach.coverage.search.member_layer import SLACK_DB, SearchModel, SiteChannels
from reach.inputs.locators import coordinates_and_locator
from reach.inputs.portable_kit import relay_words
from reach.plans.sites.cautions import PORTABLE_MAST, VISIT
from reach.plans.sites.portable_sites import Goal, LinkTask, SitePlan
from reach.plans.sites.site_links import SiteLinks
from reach.plans.sites.strongest import expected_heard
from reach.stations import Net, Station
from reach.units import length_in_words

UNKNOWN_SHARE_SAID = 0.0005


def sites_headline(
    task: LinkTask, chosen: Sequence[SiteLinks], linked: Sequence[str], *, control: str = ""
) -> str:
    """Where the relays go, whom they link, how many of them to expect, and whether net control is worked.

    linked : wanted members they link, path by path. control : who would be net control, '' for nobody.
    """
    several = len(chosen) > 1
    where = " and ".join(coordinates_and_locator(site.site.position) for site in chosen)
    start = f"{len(chosen)} portable relays, at {where}," if several else f"A portable relay at {where}"
    links = "together link" if several else "links"
    total, done = len(task.wanted), len(linked)
    if task.goal is Goal.GROUPS:
        met = sum(1 for group in task.groups if set(group) & set(linked))
        text = f"{start} {links} {met} of {len(task.groups)} groups, {done} of {total} members in all"
    elif task.goal is Goal.CUT_OFF:
        text = f"{start} {'bring' if several else 'brings'} in {done} of the {total} cut off"
    elif task.goal is Goal.NAMED:
        text = f"{start} {'together work' if several else 'works'} {done} of the {total} named"
    else:
        text = f"{start} {links} {done} of {total} members"
    missed = [call for call in task.wanted if call not in linked]
    if linked:
        text += f", {expected_heard(task, chosen):.1f} to be expected"
    if control:
        works = any(control in site.works for site in chosen)
        text += f"; {control} (net control) {'is' if works else 'is not'} worked"
    return f"{text}; not {', '.join(missed)}." if missed else f"{text}."


def sites_basis(
    net: Net,
    plan: SitePlan,
    *,
    proof: Sequence[str],
    relay: Station,
    channels: SiteChannels,
    threshold: str,
    cell_m: float,
) -> tuple[str, ...]:
    """What the answer rests on and what it does not know. proof : as proof_words."""
    return (
        f"The relay: {relay_words(relay)}; {channels.words}; a link counts at {threshold}.",
        f"Searched {plan.candidates:,} cells of {length_in_words(cell_m)}: {search_words(net)}; "
        "the strongest were then worked path by path. Sea is left out, lakes are not known.",
        " ".join(proof),
        VISIT,
        PORTABLE_MAST,
    )


def proof_words(
    plan: SitePlan, linked: Sequence[str], *, asked: int, worked: int, left: int | None
) -> tuple[str, ...]:
    """What is proven of a choice of sites, and what is not.

    linked : wanted members it links, path by path. asked : how many relays. worked : cells worked path by
    path; left : those not worked that might alone link more, were paths SLACK_DB better than their sweeps;
    None where that is not known.
    """
    total = len(plan.task.wanted)
    if len(linked) == total:
        return (f"Proven: nothing links more, for all {total} are linked.",)
    if plan.every_cell and asked == 1:
        return (
            f"Proven: each of the {plan.candidates:,} cells was worked path by path; none links more than "
            f"{len(linked)} of {total}.",
        )
    none = f"no {asked} of them together link" if asked > 1 else "none links"
    if plan.counted_best:
        counted = (
            f"Proven by the search's count only: of {plan.candidates:,} cells {none} more than "
            f"{plan.best_count} of {total}."
        )
    else:
        counted = (
            f"Not proven: by the search's count {plan.best_count} of {total} are linked, and the time ran "
            f"out before it was known that {none} more."
        )
    rest = f"{worked:,} cells were" if worked > 1 else "one cell was"
    if left == 0:
        return (
            counted,
            f"Path by path {len(linked)} are linked, and none of the {plan.candidates:,} cells links more "
            f"unless a path there is over {SLACK_DB:g} dB better than the search took it.",
        )
    here = f", where this choice links {len(linked)}" if len(linked) != plan.best_count else ""
    said = f"Not proven path by path{here}: only {rest} worked so, and another may link more."
    if left is not None:
        said += f" {left:,} might, were each path there {SLACK_DB:g} dB better than the search took it."
    return counted, said


def search_words(net: Net) -> str:
    """By what model a search computes its paths, and what it takes to stand on the ground."""
    how = SearchModel.of(net)
    return f"{MODEL_WORDS[how.model]}; on the ground {COVER_WORDS[how.cover]}"


def area_warnings(candidates: Candidates) -> tuple[str, ...]:
    """What is not known of the ground."""
    if candidates.unknown_share <= UNKNOWN_SHARE_SAID:
        return ()
    return (f"{candidates.unknown_share:.0%} of the area searched has no elevation and was left out.",)


def lost_warnings(sites: Sequence[SiteLinks], *, threshold: str) -> tuple[str, ...]:
    """Members the search counted and the single paths do not."""
    return tuple(
        f"{site.name}: the search counted {', '.join(site.lost)}, the path by itself does not "
        f"reach {threshold}; close to the edge, so test it."
        for site in sites
        if site.lost
    )


def plan_warnings(plan: SitePlan, *, used: int, asked: int) -> tuple[str, ...]:
    """Fewer relays than asked for, and a choice not proven best."""
    fewer: tuple[str, ...] = ()
    if used < asked:
        fewer = (
            f"{asked} relays were asked for; more than {used} would link nobody else "
            "within the limits given.",
        )
    unproven = [proof.words for proof in plan.proofs[:1] if not proof.proven]
    return (*fewer, *(f"The choice may not be the best: {words}." for words in unproven))
