"""The pages of `reach sites`: where to put a portable relay, and where a member can drive to."""

from __future__ import annotations

from reach.answers.sites import SitesAnswer
from reach.answers.spots import SpotsAnswer
from reach.drawings.maps.ground import places_of, relief_around
from reach.drawings.maps.page import OnlineTiles
from reach.drawings.maps.site_map import count_overlay, entry_overlay, site_map, spot_map
from reach.inputs.portable_kit import relay_words
from reach.terrain.tiles import Terrain


def sites_page(found: SitesAnswer, terrain: Terrain, *, online: OnlineTiles | None = None) -> str:
    """The sites, whom each works, and how many a relay anywhere else would work."""
    places = [*places_of(found.net), *(site.site.position for site in found.chosen)]
    return site_map(
        found.net,
        found.chosen,
        others=found.others,
        headline=found.headline,
        missed=found.missed,
        overlays=[count_overlay(found.layer)],
        first=f"Portable relay on {found.channels.words}: {relay_words(found.relay)}.",
        relief=relief_around(terrain, places),
        notes=found.assumed,
        warnings=found.warnings,
        online=online,
    )


def spots_page(found: SpotsAnswer, terrain: Terrain, *, online: OnlineTiles | None = None) -> str:
    """The spots, and from where else the member gets in."""
    places = [
        found.member.position,
        *(party.position for party in found.parties),
        *(spot.position for spot in found.spots),
    ]
    overlays = [
        entry_overlay(found.grid, found.candidates, found.spare_db[spot.hub], spot.hub)
        for spot in found.spots
    ]
    return spot_map(
        found.net,
        found.member.call_sign,
        found.spots,
        hubs=found.parties,
        headline=found.headline,
        overlays=overlays,
        relief=relief_around(terrain, places),
        notes=found.assumed,
        warnings=found.warnings,
        online=online,
    )
