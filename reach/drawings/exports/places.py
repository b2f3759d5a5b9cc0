"""Places to go to as waypoints for a navigator: sites of a portable relay, spots of a member."""

from __future__ import annotations

from reach.answers.sites import SitesAnswer
from reach.answers.spots import SpotsAnswer
from reach.drawings.exports.waypoints import Waypoint, gpx_text
from reach.plans.sites.nearest_spot import NearestSpot
from reach.plans.sites.site_links import SiteLinks

_SITE_CAUTION = "Prediction only: test on the air; ask the owner; keep clear of power lines."


def sites_gpx(found: SitesAnswer) -> str:
    """Every site of the answer as GPX, the chosen ones first."""
    return gpx_text([_site(site) for site in found.shown], title=found.headline)


def _site(site: SiteLinks) -> Waypoint:
    works = f"works {len(site.works)}: {', '.join(site.works)}" if site.works else "works nobody"
    description = f"Portable relay {works}. {_SITE_CAUTION}"
    return Waypoint(site.site.position, site.name, description, site.site.elevation_m)


def spots_gpx(found: SpotsAnswer) -> str:
    """Every spot as GPX, and the one with 6 dB to spare where it is another place."""
    waypoints = []
    for spot in found.spots:
        waypoints.append(_spot(spot, f"to {spot.hub}"))
        if spot.comfortable is not None and spot.comfortable.position != spot.position:
            waypoints.append(_spot(spot.comfortable, f"to {spot.hub}, 6 dB more"))
    return gpx_text(waypoints, title=found.headline)


def _spot(spot: NearestSpot, name: str) -> Waypoint:
    said = f"Nearest spot for {spot.hub}, {spot.distance_m / 1000.0:.1f} km."
    return Waypoint(spot.position, name, f"{said} Prediction only: test on the air.", spot.elevation_m)
