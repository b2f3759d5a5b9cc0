"""A search for relay sites on one screen: the answer, the sites, whom each of those chosen works."""

from __future__ import annotations

from rich.console import RenderableType
from rich.table import Table

from reach.answers.sites import SitesAnswer
from reach.drawings.style.cautions import SHORT
from reach.drawings.style.words import grade_words, signed
from reach.drawings.tables.terminal import answer, notes_text, quiet_table
from reach.inputs.locators import coordinates, locator_of
from reach.links.sayings import chance_in_words, margin_in_words
from reach.plans.sites.portable_sites import LinkTask, linked_by
from reach.plans.sites.site_links import SiteLinks
from reach.plans.sites.strongest import expected_heard

_SITE_COLUMNS = (
    ("place", "left"), ("latitude, longitude", "left"), ("locator", "left"), ("ground m", "right"),
    ("works", "right"), ("links", "right"), ("expect", "right"), ("weakest", "left"),
    ("net control", "left"), ("works sites", "left"),
)  # fmt: skip
_LINK_COLUMNS = (
    ("station", "left"), ("works", "left"), ("chance", "left"), ("grade", "left"),
    ("site hears it dB", "right"), ("it hears site dB", "right"), ("km", "right"),
)  # fmt: skip


def sites_screen(found: SitesAnswer) -> list[RenderableType]:
    """What `reach sites` says of portable relays."""
    blank = notes_text([""])
    parts: list[RenderableType] = [answer(found.headline), blank, _site_table(found), blank]
    for site in found.chosen:
        parts += [_link_table(site), blank]
    step = (
        'Site 1 in the backup plan: reach backup FOLDER --what-if "CALL at '
        f'{found.chosen[0].site.position.latitude_deg:.5f},{found.chosen[0].site.position.longitude_deg:.5f}"'
    )
    return [*parts, notes_text([step, *found.warnings, *found.in_short, SHORT])]


def _site_table(found: SitesAnswer) -> Table:
    # which sites work each other is only worth a column when several are used together
    shown = len(_SITE_COLUMNS) if len(found.chosen) > 1 else len(_SITE_COLUMNS) - 1
    rows = [_site_row(site, found.task, found.control)[:shown] for site in found.shown]
    return quiet_table("Sites, best first", _SITE_COLUMNS[:shown], rows)


def _site_row(site: SiteLinks, task: LinkTask, control: str) -> tuple[str, ...]:
    works = [link for link in site.links if link.works]
    weakest = min(works, key=lambda link: link.weaker.margin_db, default=None)
    return (
        site.name,
        coordinates(site.site.position),
        locator_of(site.site.position, characters=8),
        f"{site.site.elevation_m:.0f}",
        f"{len(works)}",
        f"{len(linked_by(task, [site.works]))}",
        f"{expected_heard(task, [site]):.1f}",
        "" if weakest is None else f"{weakest.call_sign} {margin_in_words(weakest.weaker.margin_db)}",
        "" if not control else "yes" if control in site.works else "no",
        ", ".join(name for name in site.other_sites if name.startswith("site")),
    )


def _link_table(site: SiteLinks) -> Table:
    rows = [
        (
            link.call_sign,
            "yes" if link.works else "no",
            chance_in_words(link.chance),
            grade_words(link.weaker.grade),
            signed(link.talk_in.margin_db),
            signed(link.talk_out.margin_db),
            f"{link.talk_in.distance_m / 1000.0:.1f}",
        )
        for link in site.links
    ]
    return quiet_table(f"Whom {site.name} works, strongest first", _LINK_COLUMNS, rows)
