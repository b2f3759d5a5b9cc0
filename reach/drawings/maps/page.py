"""The map library inside a page: Leaflet inlined, its elements rendered once, nothing asked of any network.

Elements of the library (folium on branca) render into a figure. Its own last step hands what an element
rendered to the template engine once more, so that text in it would be run as a template; `RenderedOnce` takes
the place of that step. What reaches a script is written by `tojavascript` or as `tojson` does, without any
character that could end the script; what reaches markup is escaped.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

import folium
from branca.element import Element, MacroElement
from folium.map import CustomPane
from folium.raster_layers import ImageOverlay, TileLayer
from folium.template import Template
from jinja2.utils import htmlsafe_json_dumps
from markupsafe import escape

from reach.drawings.maps.picture import MapPicture

COVERAGE_PANE = "coverage"
# what lies over what: the library's own pane of pictures is at 400, its markers at 600
_PANES = ((COVERAGE_PANE, 405, False), ("links", 410, True), ("plan", 420, True), ("names", 640, False))


@dataclass(frozen=True)
class OnlineTiles:
    """A public tile service, offered as an extra layer that starts switched off.

    url_template : https address with {z}, {x}, {y}; attribution : plain text shown while the layer is on.
    Raises : ValueError for anything but an https address of plain characters, or no attribution.
    """

    url_template: str
    attribution: str
    max_zoom: int = 19

    def __post_init__(self) -> None:
        named = re.findall(r"\{[^{}]*\}", self.url_template)
        bare = re.sub(r"\{[xyz]\}", "0", self.url_template)
        plain = re.fullmatch(r"https://[a-z0-9.-]+(:\d+)?/[A-Za-z0-9_./@?=&%~-]*", bare)
        if not plain or sorted(named) != ["{x}", "{y}", "{z}"]:
            wanted = "an https address with {z}, {x} and {y} in it"
            raise ValueError(f'"{self.url_template}" is not {wanted}')
        if not self.attribution.strip():
            raise ValueError("a tile service needs the words with which its owner wants to be named")

    @property
    def origin(self) -> str:
        """Scheme and host, for the page's security policy."""
        return "/".join(self.url_template.split("/")[:3])


class Raw(Element):  # type: ignore[misc]  # the library has no types
    """Text put into the page as it stands, past the template engine."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.text = text

    def render(self, **kwargs: Any) -> str:
        """The text, unchanged."""
        return self.text


class RenderedOnce(MacroElement):  # type: ignore[misc]
    """The library's last step of rendering an element, but with the result taken as it is.

    To be named after the library's class, so that it stands in for the common base of them all.
    """

    def render(self, **kwargs: Any) -> None:
        """Put what the element's macros give into the figure, then those of its children."""
        figure, macros = self.get_root(), self._template.module
        for place in ("header", "html", "script"):
            macro = getattr(macros, place, None)
            if macro is not None:
                getattr(figure, place).add_child(Raw(macro(self, kwargs)), name=self.get_name())
        for child in self._children.values():
            child.render(**kwargs)


class OfflineMap(folium.Map, RenderedOnce):  # type: ignore[misc]
    """A Leaflet map without layers that links nothing: the library travels inside the page."""

    # own lists: the class-level ones of every other map stay as they are
    default_js: list[tuple[str, str]] = []  # noqa: RUF012  # as the library declares them
    default_css: list[tuple[str, str]] = []  # noqa: RUF012
    _template = Template(
        """
        {% macro html(this, kwargs) %}
            <div id={{ this.get_name()|tojson }} class="map" role="application"
                aria-label="Map of the net"></div>
        {% endmacro %}
        {% macro script(this, kwargs) %}
            var {{ this.get_name() }} = L.map({{ this.get_name()|tojson }}, {{ this.options|tojavascript }});
        {% endmacro %}
        """
    )

    def __init__(self) -> None:
        # Zooming in quarter steps lets a net fill the window; what is in sight is set by what is drawn.
        super().__init__(
            tiles=None, zoom_snap=0.25, zoom_delta=0.5, wheel_px_per_zoom_level=90, attribution_control=True
        )
        del self.options["zoom"]
        self._id = "net"
        for name, order, clickable in _PANES:
            _add(self, _Pane(name, z_index=order, pointer_events=clickable), name)

    def add_picture(self, name: str, picture: MapPicture, *, pane: str = "overlayPane") -> Element:
        """A picture, not yet shown; gives the element by which a script knows it."""
        bounds = [list(corner) for corner in picture.box.corners_deg]
        layer = _Picture(picture.data_uri, bounds=bounds, pane=pane, pixelated=False, show=False)
        return _add(self, layer, name)

    def add_online(self, tiles: OnlineTiles) -> Element:
        """A tile service, not yet shown and so not yet asked."""
        credit = str(escape(tiles.attribution))  # the library takes it for markup
        layer = _Tiles(tiles.url_template, attr=credit, max_zoom=tiles.max_zoom, overlay=True, show=False)
        return _add(self, layer, "online")

    def add_drawing(self, layers: Mapping[str, Element], data: object) -> None:
        """What the page's own script draws from plain data; layers : those it may switch, by key."""
        _add(self, _Drawing(layers, data), "drawing")

    def parts(self) -> tuple[str, str]:
        """(markup of the map's place, script that makes the map)."""
        figure = self.get_root()
        self.render()
        return figure.html.render(), figure.script.render()


class _Pane(CustomPane, RenderedOnce):  # type: ignore[misc]
    """A height of its own above the map."""


class _Picture(ImageOverlay, RenderedOnce):  # type: ignore[misc]
    """A picture laid on the map."""


class _Tiles(TileLayer, RenderedOnce):  # type: ignore[misc]
    """Map tiles from a service."""


class _Drawing(RenderedOnce):
    """The call of the page's own script."""

    _template = Template(
        """
        {% macro script(this, kwargs) %}
            drawNet({{ this._parent.get_name() }}, {{ this.layers|tojavascript }}, {{ this.data }});
        {% endmacro %}
        """
    )

    def __init__(self, layers: Mapping[str, Element], data: object) -> None:
        super().__init__()
        self.layers = dict(layers)
        # as the filter `tojson` writes it, but without blanks, and NaN is refused
        self.data = htmlsafe_json_dumps(data, separators=(",", ":"), allow_nan=False)


def _add(chart: OfflineMap, element: Element, name: str) -> Element:
    """Under a name that is the same on every run; the library's own names are random."""
    element._id = name
    chart.add_child(element, name=name)
    return element


@lru_cache(maxsize=1)
def leaflet_js() -> str:
    """Leaflet's script as shipped, without its source map line."""
    text = (files("js_lib_leaflet") / "static/js_lib_leaflet/leaflet.js").read_text(encoding="utf-8")
    return re.sub(r"\s*//# sourceMappingURL=.*", "", text)


@lru_cache(maxsize=1)
def leaflet_css() -> str:
    """Leaflet's style sheet with its three pictures inlined."""
    folder = files("js_lib_leaflet") / "static/js_lib_leaflet"
    text = (folder / "leaflet.css").read_text(encoding="utf-8")

    def inlined(match: re.Match[str]) -> str:
        data = (folder / "images" / match.group(1)).read_bytes()
        return f"url(data:image/png;base64,{base64.b64encode(data).decode('ascii')})"

    return re.sub(r"url\(images/([\w-]+\.png)\)", inlined, text)


def own_asset(name: str) -> str:
    """A script or style sheet of this package."""
    return (files("reach.drawings") / "assets" / name).read_text(encoding="utf-8")
