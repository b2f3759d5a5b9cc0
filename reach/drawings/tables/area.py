"""An area on the screen: the answer, then a table a site."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.table import Table

from reach.answers.area import AreaAnswer
from reach.answers.area_site import AreaSite, share_words
from reach.coverage.area.summary import AreaSummary
from reach.drawings.style.cautions import SHORT
from reach.drawings.style.words import grade_words
from reach.drawings.tables.terminal import answer, notes_text, quiet_table
from reach.links.grade import Grade

Row = tuple[str, str, str]


def area_screen(found: AreaAnswer) -> list[RenderableType]:
    """What `reach area` says."""
    parts: list[RenderableType] = []
    if len(found.sites) > 1:
        parts += [answer(found.headline), notes_text([found.best_sentence, ""])]
    for site, headline in zip(found.sites, found.headlines):
        parts += [answer(headline), site_table(site), notes_text([""])]
    return [*parts, notes_text([*found.warnings, *found.in_short, SHORT])]


def kinds_screen(answers: Sequence[AreaAnswer]) -> list[RenderableType]:
    """What `reach area --kind each` says."""
    first = answers[0]
    rows = []
    for number, site in enumerate(first.sites):
        for found in answers:
            figures = found.sites[number].figures
            land_km2 = figures.land_km2
            rows.append(
                (
                    site.call_sign,
                    found.work.kind.value,
                    f"{figures.served_km2:,.1f}",
                    share_words(figures.served_km2 / land_km2) if land_km2 else "",
                    f"{figures.hears_only_km2:,.1f}",
                )
            )
    columns = (
        ("site", "left"), ("kind of station", "left"), ("works both ways, km²", "right"),
        ("share of land", "right"), ("only hears it, km²", "right"),
    )  # fmt: skip
    parts: list[RenderableType] = [answer(found.headline) for found in answers]
    parts += [notes_text([""]), quiet_table("", columns, rows), notes_text([""])]
    return [*parts, notes_text([*first.warnings, *first.in_short, SHORT])]


def site_table(site: AreaSite) -> Table:
    """Both ways and each way alone, grades of the weaker direction, directions, members."""
    figures, call = site.figures, site.call_sign
    areas = [("works both ways", figures.served_km2)]
    areas += [
        (f"  {grade_words(grade)}", area)
        for grade, area in figures.grade_km2
        if grade.readability >= Grade.WORKABLE.readability
    ]
    areas += [
        (f"hears {call}, {site.not_heard_words}", figures.hears_only_km2),
        (site.heard_only_words, figures.heard_only_km2),
        ("neither", figures.neither_km2),
    ]
    land_km2 = figures.land_km2
    rows: list[Row] = [
        (words, f"{area:,.1f}", share_words(area / land_km2) if land_km2 else "") for words, area in areas
    ]
    rows += [*_beyond_land(site), *_directions(figures), *_places(figures)]
    return quiet_table("", ((f"{call}, land", "left"), ("km²", "right"), ("share of land", "right")), rows)


def _beyond_land(site: AreaSite) -> list[Row]:
    figures = site.figures
    rows = []
    if figures.sea_km2:
        rows.append(
            ("sea, works both ways", f"{figures.served_sea_km2:,.1f}", f"of {figures.sea_km2:,.1f} km²")
        )
    if site.has_unknown:
        unknown_km2 = figures.circle_km2 * figures.unknown_share
        rows.append(
            ("not known", f"{unknown_km2:,.1f}", f"{share_words(figures.unknown_share)} of the circle")
        )
    return rows


def _directions(figures: AreaSummary) -> list[Row]:
    best, worst = figures.best, figures.worst
    if best is None or worst is None:
        return []
    if best.served_share == worst.served_share:
        return [("every direction", "", f"{share_words(best.served_share)} works")]
    named = (("best direction", best), ("worst direction", worst))
    return [
        (words, f"{sector.bearing_deg:.0f}°", f"{share_words(sector.served_share)} works")
        for words, sector in named
    ]


def _places(figures: AreaSummary) -> list[Row]:
    known = [place for place in figures.places if place.served is not None]
    if not known:
        return []
    works = sum(bool(place.served) for place in known)
    return [("works from members' places", f"{works} of {len(known)}", share_words(figures.roster_share))]
