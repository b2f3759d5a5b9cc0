"""The page of an area: sites, members and coverage, with a switch a layer."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from affine import Affine
from numpy.typing import NDArray

from reach.answers.area import AreaAnswer
from reach.answers.area_site import KIND_WORDS, AreaSite, either_words, lower_words
from reach.coverage.area.overlay import RegionCoverage
from reach.coverage.area.raster import box_in, warped
from reach.coverage.area.sites import TALK_IN, TALK_OUT
from reach.drawings.maps.coverage_map import coverage_map
from reach.drawings.maps.ground import places_of, relief_around
from reach.drawings.maps.page import OnlineTiles
from reach.drawings.maps.picture import CoverageOverlay, MapPicture, MercatorBox, chance_classes
from reach.drawings.style.palette import ACCENT, CHANCE_STEPS, GROUND_LINE, QUIET_INK, ChanceStep
from reach.geodesy import destination
from reach.stations import Position
from reach.terrain.tiles import Terrain

LONGEST_SIDE_PIXELS = 1600
MOST_COUNTED = 3  # the count of sites is shown as 1, 2, and 3 or more


def area_page(found: AreaAnswer, terrain: Terrain, *, online: OnlineTiles | None = None) -> str:
    """Sites as masts, members by whether they are served, coverage with a switch a layer."""
    sites, region = found.sites, found.region
    overlays = [chance_overlay(found)]
    if len(sites) > 1:
        overlays.append(_count_overlay(region))
    elif sites[0].figures.hears_only_km2 + sites[0].figures.heard_only_km2 > 0.0:
        overlays.append(_one_way_overlay(sites[0]))
    return coverage_map(
        found.net,
        sites=[site.party for site in sites],
        overlays=overlays,
        headline=found.headline,
        member_chance=_chance_by_member(sites),
        relief=_relief(found, terrain),
        notes=found.assumed,
        warnings=found.warnings,
        frame=overlays[0].box,
        online=online,
    )


def kinds_page(answers: Sequence[AreaAnswer], terrain: Terrain, *, online: OnlineTiles | None = None) -> str:
    """The same sites for several kinds of station, a layer each, the first one shown."""
    first = answers[0]
    overlays = [chance_overlay(found) for found in answers]
    return coverage_map(
        first.net,
        sites=[site.party for site in first.sites],
        overlays=overlays,
        headline=" ".join(found.headline for found in answers),
        member_chance=_chance_by_member(first.sites),
        relief=_relief(first, terrain),
        notes=first.assumed,
        warnings=first.warnings,
        frame=overlays[0].box,
        online=online,
    )


def chance_overlay(found: AreaAnswer) -> CoverageOverlay:
    """How sure the chosen kind of station is to work the sites, cell by cell."""
    kind = lower_words(KIND_WORDS[found.work.kind])
    name = f"how sure {kind} is to work {either_words(found.region.call_signs)}"
    return _chance_overlay(found.region, found.sites, name)


def _chance_by_member(sites: Sequence[AreaSite]) -> dict[str, float]:
    """The best chance any site gives at each member's place; NaN where nothing is known; none outside."""
    chances: dict[str, float] = {}
    for place in (place for site in sites for place in site.figures.places if place.inside):
        before = chances.get(place.call_sign, float("nan"))
        chances[place.call_sign] = place.chance if not before >= place.chance else before
    return chances


def _chance_overlay(region: RegionCoverage, sites: Sequence[AreaSite], name: str) -> CoverageOverlay:
    """The chance by class, and the ground within a circle that nothing is known of."""
    classes = chance_classes(region.chance)
    circles = [(site.job.hub.position, site.job.radius_m) for site in sites]
    unknown = region.within(circles) & ~region.known
    if not any(site.has_unknown for site in sites) or not unknown.any():
        return _laid(classes, region.crs, region.transform, name, CHANCE_STEPS)
    classes = np.where(classes > 0, classes + 1, unknown).astype(np.uint8)
    marked = ChanceStep(0.0, GROUND_LINE, 0.45, "not known: no elevation here, or nearer the site")
    return _laid(classes, region.crs, region.transform, name, (marked, *CHANCE_STEPS))


def _count_overlay(region: RegionCoverage) -> CoverageOverlay:
    """How many sites serve each cell."""
    most = min(MOST_COUNTED, len(region.call_signs))
    words = ["1 of them", "2 of them", "3 of them"][:most]
    if len(region.call_signs) > MOST_COUNTED:
        words[-1] = "3 or more of them"
    looks = CHANCE_STEPS[0], CHANCE_STEPS[2], CHANCE_STEPS[3]
    steps = tuple(
        ChanceStep(float(n + 1), looks[n].fill, looks[n].opacity, text) for n, text in enumerate(words)
    )
    classes = np.minimum(region.served_by, most).astype(np.uint8)
    name = f"how many of {', '.join(region.call_signs)} it works"
    return _laid(classes, region.crs, region.transform, name, steps)


def _one_way_overlay(site: AreaSite) -> CoverageOverlay:
    """Where only one direction works."""
    heard = site.raster.layer(TALK_IN).values >= 0.0
    hears = site.raster.layer(TALK_OUT).values >= 0.0
    classes = (hears & ~heard).astype(np.uint8)
    steps = [ChanceStep(0.0, ACCENT, 0.75, f"hears {site.call_sign}, {site.not_heard_words}")]
    if (heard & ~hears).any():
        classes[heard & ~hears] = 2
        steps.append(ChanceStep(0.0, QUIET_INK, 0.75, site.heard_only_words))
    return _laid(classes, site.raster.crs, site.raster.transform, "where it works one way only", tuple(steps))


def _laid(
    classes: NDArray[np.uint8], crs: str, transform: Affine, name: str, steps: tuple[ChanceStep, ...]
) -> CoverageOverlay:
    """Classes of cells in the map's projection."""
    rows, columns = classes.shape
    t = transform
    edges = (t.c, t.f + rows * t.e, t.c + columns * t.a, t.f)
    box = box_in("EPSG:3857", crs=crs, box=edges)
    longer = max(box[2] - box[0], box[3] - box[1])
    pixel = longer / min(LONGEST_SIDE_PIXELS, max(rows, columns))
    shape = (max(1, round((box[3] - box[1]) / pixel)), max(1, round((box[2] - box[0]) / pixel)))
    picture = warped(classes, crs=crs, transform=t, to_crs="EPSG:3857", box=box, shape=shape)
    return CoverageOverlay(name, picture, MercatorBox(*box), steps)


def _relief(found: AreaAnswer, terrain: Terrain) -> MapPicture:
    """Relief under the net and the circles."""
    rims: list[Position] = []
    for site in found.sites:
        at = site.job.hub.position
        for bearing_deg in (0.0, 90.0, 180.0, 270.0):
            latitude, longitude = destination(
                latitude_deg=at.latitude_deg,
                longitude_deg=at.longitude_deg,
                bearing_deg=bearing_deg,
                distance_m=site.job.radius_m,
            )
            rims.append(Position(float(latitude), float(longitude)))
    return relief_around(terrain, [*places_of(found.net), *rims])
