"""From finished parts to one self-contained page: answer first, map, legend, cautions."""

from __future__ import annotations

from collections.abc import Sequence

from reach.drawings.maps.map_parts import LinkLayer, MapLink, MapStation, map_data, panel_html
from reach.drawings.maps.page import (
    OfflineMap,
    OnlineTiles,
    Page,
    PageParts,
    Raw,
    finished,
    leaflet_css,
    leaflet_js,
    own_asset,
    page_cautions,
    script_json,
    shown,
)
from reach.drawings.maps.picture import CoverageOverlay, MapPicture, MercatorBox
from reach.drawings.maps.plan_marks import PlanMarks
from reach.drawings.style.palette import css_variables


def map_page(
    *,
    title: str,
    headline: str,
    plan: PlanMarks,
    first: str,
    notes: Sequence[str],
    warnings: Sequence[str],
    stations: Sequence[MapStation],
    links: Sequence[MapLink],
    layers: Sequence[LinkLayer],
    links_title: str,
    relief: MapPicture | None,
    overlays: Sequence[CoverageOverlay],
    online: OnlineTiles | None,
    frame: MercatorBox | None = None,
) -> str:
    """One finished page. first : what the map is of; notes, warnings : folded lists.
    frame : shown besides the stations when the page opens.

    Raises : ValueError without any station.
    """
    import folium

    if not stations:
        raise ValueError("a map needs at least one station")
    parts = PageParts(
        title=shown(title),
        headline=shown(headline),
        under_headline=_under_headline(plan, first, notes, warnings),
        panel=panel_html(
            stations,
            links,
            layers,
            overlays,
            links_title=links_title,
            relief=relief,
            online=online,
        ),
        cautions=page_cautions(),
    )
    page = Page(parts)
    chart = OfflineMap("net")
    page.add_child(chart, name="map_net")
    relief_name = "null"
    if relief is not None:
        layer = folium.raster_layers.ImageOverlay(
            relief.data_uri,
            bounds=[list(corner) for corner in relief.box.corners_deg],
            overlay=False,
            control=False,
        )
        layer._id = "relief"
        chart.add_child(layer, name="relief")
        relief_name = layer.get_name()
    page.header.add_child(
        Raw(f"<style>\n{leaflet_css()}\n{css_variables()}\n{own_asset('page.css')}</style>"), name="style"
    )
    page.header.add_child(
        Raw(f"<script>\n{leaflet_js()}\n</script>\n<script>\n{own_asset('net_map.js')}</script>"),
        name="leaflet",
    )
    data = script_json(map_data(stations, links, layers, overlays, online, frame))
    chart.add_child(_After(f"drawNet({chart.get_name()}, {relief_name}, {data});"), name="net")
    return finished(page, scripts=3, online=online)


class _After(Raw):
    """A line of script that runs once the map stands."""

    def render(self, **kwargs: object) -> str:
        self.get_root().script.add_child(Raw(self.text), name="net")
        return ""


def _under_headline(plan: PlanMarks, first: str, notes: Sequence[str], warnings: Sequence[str]) -> str:
    parts = []
    if plan.reasons:
        parts.append(f"<p>{shown(' '.join(plan.reasons))}</p>")
    if plan.cut_off:
        said = "; ".join(
            f"<b>{shown(entry.call_sign)}</b>{shown(': ' + entry.near_miss) if entry.near_miss else ''}"
            for entry in plan.cut_off
        )
        parts.append(f'<p class="cutoff">Cut off: {said}</p>')
    parts.append(f"<p>{shown(first)}</p>")
    folded = _folded("What was assumed", notes) + _folded("Warnings", warnings)
    if folded:
        parts.append(f'<div class="folded">{folded}</div>')
    return "".join(parts)


def _folded(heading: str, sentences: Sequence[str]) -> str:
    """A heading that opens to a list; nothing for no sentences."""
    if not sentences:
        return ""
    rows = "".join(f"<li>{shown(text)}</li>" for text in sentences)
    return f"<details><summary>{heading} ({len(sentences)})</summary><ul>{rows}</ul></details>"
