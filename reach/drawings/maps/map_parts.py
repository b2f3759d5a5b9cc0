"""What a map page is made of before it becomes a page: what it says, stations, links, layers, pictures.

Plain records; text in them is as the user wrote it and is made safe only where the page is written.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reach.drawings.maps.picture import CoverageOverlay, MercatorBox
from reach.drawings.maps.plan_marks import PlanMarks
from reach.drawings.style.palette import LineStyle
from reach.drawings.style.symbols import Symbol

NO_PLAN = PlanMarks()


@dataclass(frozen=True)
class MapStation:
    """A dot. title and lines go to its card; status to the station list.

    frames : whether the page opens so that it is in sight.
    """

    call_sign: str
    latitude_deg: float
    longitude_deg: float
    symbol: Symbol
    title: str
    lines: tuple[str, ...]
    status: str
    frames: bool = True

    @property
    def attention(self) -> bool:
        """In trouble: shown in the accent."""
        return self.symbol.mark.needs_attention


@dataclass(frozen=True)
class LinkProfile:
    """The ground under a line: evenly spaced heights over the Earth's own bend, m above sea level.

    start_m, end_m : the antennas.
    """

    length_km: float
    ground_m: tuple[float, ...]
    start_m: float
    end_m: float


@dataclass(frozen=True)
class MapLink:
    """A line between two stations (indices). forward : how `listener` hears `talker`; back : the reverse.

    profile : what lies under it, where the page is to show it. frequency_mhz : of the line, where it is not
    the page's.
    """

    talker: int
    listener: int
    layer: str
    forward: str
    back: str
    path: str
    profile: LinkProfile | None = None
    frequency_mhz: float = 0.0


@dataclass(frozen=True)
class LinkLayer:
    """A kind of line that can be switched. title : shown in the legend; pane : 'links' or 'plan'."""

    key: str
    title: str
    style: LineStyle
    visible: bool = True
    pane: str = "links"
    opacity: float = 0.85


@dataclass(frozen=True, kw_only=True)
class MapCase:
    """One state of a page that can be switched. label : on its button; headline, reasons : under the title.

    stations : the same ones at the same places in every case, in the same order; links : lines of the page's
    layers.
    """

    label: str
    headline: str
    reasons: tuple[str, ...]
    stations: tuple[MapStation, ...]
    links: tuple[MapLink, ...]


@dataclass(frozen=True, kw_only=True)
class MapContent:
    """All of one page but the ground it is drawn on.

    first : what the map is of, under the headline; plan : its reasons and cut-off members stand there too.
    audience : whom the page is for.
    frequency_mhz : of the lines, for the clearance drawn in their profiles.
    notes, warnings : folded lists. links_title : over the legend of the lines. overlays : the first one is
    switched on. frame : shown besides the stations when the page opens. cases : states to
    switch between, the first one shown; their stations and links stand in place of those given.
    Raises : ValueError without any station, or for cases that do not have the same stations.
    """

    title: str
    headline: str
    first: str
    stations: Sequence[MapStation]
    links: Sequence[MapLink] = ()
    layers: Sequence[LinkLayer] = ()
    links_title: str = ""
    overlays: Sequence[CoverageOverlay] = ()
    plan: PlanMarks = NO_PLAN
    audience: str = ""
    notes: Sequence[str] = ()
    warnings: Sequence[str] = ()
    frame: MercatorBox | None = None
    cases: Sequence[MapCase] = ()
    frequency_mhz: float = 0.0

    def __post_init__(self) -> None:
        if not self.stations:
            raise ValueError("a map needs at least one station")
        own = [station.call_sign for station in self.stations]
        if any([station.call_sign for station in case.stations] != own for case in self.cases):
            raise ValueError("every case of a map has the same stations in the same order")

    def links_of(self, layer: LinkLayer) -> int:
        """How many lines are of that kind, of the case shown first."""
        links = self.cases[0].links if self.cases else self.links
        return sum(1 for link in links if link.layer == layer.key)
