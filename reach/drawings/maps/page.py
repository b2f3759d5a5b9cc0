"""Self-contained pages: user text made harmless, Leaflet inlined, nothing asked of any network.

Text from users reaches a page on two roads only:

- static markup, through `shown` (Rule A): every character that HTML, a script or the template engine could
  read as more than a letter becomes a numeric character reference;
- data for the page's script, through `script_json` (Rule B); the script sets it as text, not as markup.

The map library's elements are rendered by Jinja twice, so nothing from users is ever handed to them.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any, ClassVar

import folium
from branca.element import Element, Figure, Template

from reach.drawings.style.cautions import CAUTIONS

_RULE_A = str.maketrans({c: f"&#{ord(c)};" for c in "&<>\"'`$\\{}"})
_RULE_B = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "{": "\\u007b", "}": "\\u007d"}


def shown(text: str) -> str:
    """User text for markup: shown exactly as written, whatever it holds."""
    return text.translate(_RULE_A)


def script_string(text: str) -> str:
    """User text as a string literal inside a script, quotes included."""
    literal = json.dumps(text)
    for character, escape in _RULE_B.items():
        literal = literal.replace(character, escape)
    return literal


def script_json(value: Any) -> str:
    """Lists, tuples, str-keyed dicts, text, numbers, bool and None as a script literal, text made safe.

    Raises : TypeError for anything else; ValueError for NaN or infinity (give None instead).
    """
    if isinstance(value, str):
        return script_string(value)
    if value is None or isinstance(value, (bool, int, float)):
        return json.dumps(value, allow_nan=False)
    if isinstance(value, dict):
        return "{" + ",".join(f"{script_string(str(k))}:{script_json(v)}" for k, v in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ",".join(script_json(v) for v in value) + "]"
    raise TypeError(f"{type(value).__name__} has no script literal")


class Raw(Element):  # type: ignore[misc]  # the library has no types
    """Text put into the page as it stands, past the template engine. Only for text this module trusts."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.text = text

    def render(self, **kwargs: Any) -> str:
        """The text, unchanged."""
        return self.text


class OfflineMap(folium.Map):  # type: ignore[misc]
    """A Leaflet map that links nothing: the library travels inside the page."""

    # own lists: the class-level ones of every other map stay as they are
    default_js: ClassVar[list[tuple[str, str]]] = []
    default_css: ClassVar[list[tuple[str, str]]] = []
    _template = Template(
        """
        {% macro html(this, kwargs) %}
            <div id={{ this.get_name()|tojson }} class="map" role="application"
                aria-label="Map of the net"></div>
        {% endmacro %}
        {% macro script(this, kwargs) %}
            var {{ this.get_name() }} = L.map({{ this.get_name()|tojson }}, {{ this.options|tojson }});
        {% endmacro %}
        """
    )

    def __init__(self, identity: str) -> None:
        super().__init__(location=[0.0, 0.0], tiles=None, zoom_start=3, zoom_control=True)
        # Zooming in quarter steps lets a net fill the window; scale and layers are the page's own.
        self.options = {
            "zoomSnap": 0.25,
            "zoomDelta": 0.5,
            "wheelPxPerZoomLevel": 90,
            "attributionControl": True,
        }
        self._id = identity


class Page(Figure):  # type: ignore[misc]
    """The frame of a page: answer first, then the drawing, the side panel, the cautions."""

    _template = Template(
        "<!DOCTYPE html>\n"
        '<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta http-equiv="Content-Security-Policy" content="{{ this.policy_mark }}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<title>{{ this.parts.title }}</title>\n"
        "{{ this.header.render(**kwargs) }}\n</head>\n<body>\n"
        '<header class="answer"><h1>{{ this.parts.headline }}</h1>{{ this.parts.under_headline }}</header>\n'
        '<main><section class="sheet">{{ this.html.render(**kwargs) }}</section>\n'
        '<aside class="panel" aria-label="Legend and layers">{{ this.parts.panel }}</aside></main>\n'
        '<footer class="cautions">{{ this.parts.cautions }}</footer>\n'
        "<script>\n{{ this.script.render(**kwargs) }}\n</script>\n</body>\n</html>\n"
    )
    policy_mark = "policy-goes-here"

    def __init__(self, parts: PageParts) -> None:
        super().__init__()
        self.header._children.clear()  # the frame above has its own meta elements
        self.parts = parts


@dataclass(frozen=True)
class PageParts:
    """Finished markup of a page's places; every piece of user text in it has been through `shown`."""

    title: str
    headline: str
    under_headline: str
    panel: str
    cautions: str


@dataclass(frozen=True)
class OnlineTiles:
    """A public tile service, offered as an extra layer that starts switched off.

    url_template : https address with {z}, {x}, {y}; attribution : plain text shown while the layer is on.
    Raises : ValueError for anything but an https address of plain characters.
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

    @property
    def origin(self) -> str:
        """Scheme and host, for the page's security policy."""
        return "/".join(self.url_template.split("/")[:3])


def page_cautions(extra: Sequence[str] = ()) -> str:
    """The caution sentences as markup, any extra plain sentences after them."""
    return " ".join(f"<span>{shown(text)}</span>" for text in (*CAUTIONS, *extra))


def finished(page: Page, *, scripts: int, online: OnlineTiles | None = None) -> str:
    """Render a page and close it: only its own scripts, named by their hash, may run; nothing may be fetched.

    scripts : how many script elements the page is meant to hold; any other number is a fault in the page.
    Raises : RuntimeError when the count differs.
    """
    text: str = page.render()
    bodies = re.findall(r"<script[^>]*>(.*?)</script>", text, flags=re.DOTALL | re.IGNORECASE)
    if len(bodies) != scripts or len(re.findall(r"<script", text, flags=re.IGNORECASE)) != scripts:
        raise RuntimeError(f"the page holds {len(bodies)} scripts where {scripts} were meant")
    hashes = " ".join(f"'sha256-{_sha256(body)}'" for body in bodies)
    images = "data: blob:" + (f" {online.origin}" if online else "")
    policy = (
        f"default-src 'none'; img-src {images}; style-src 'unsafe-inline'; script-src {hashes}; "
        "base-uri 'none'; form-action 'none'"
    )
    return text.replace(Page.policy_mark, policy, 1)


def _sha256(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


@lru_cache(maxsize=1)
def leaflet_js() -> str:
    """Leaflet's script as shipped, without its source map line."""
    text = (files("js_lib_leaflet") / "static/js_lib_leaflet/leaflet.js").read_text(encoding="utf-8")
    text = re.sub(r"\s*//# sourceMappingURL=.*", "", text)
    if "</script" in text.lower():
        raise RuntimeError("the map library's script cannot be inlined: it holds a closing script tag")
    return text


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
