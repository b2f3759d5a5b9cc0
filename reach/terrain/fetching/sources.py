"""Open data sets the ground can be had from: where each part lies, whose it is, under which terms.

Every address, name of a file, size, licence and credit in this file is FROM MEMORY of the data sets' own
documentation: none could be asked or read again here, and a source says so (`known`) to whoever is about to
fetch. What was tried is the reading, against a server of our own with the same layout.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from reach.terrain.cells import cell_name


class Ground(Enum):
    """What a data set's values are; the value is how it is said."""

    SURFACE = "height of the surface, trees and roofs included"
    BARE = "height of the bare ground"
    COVER = "classes of land cover"


class Corner(Enum):
    """Which corner of a part its name tells."""

    SOUTH_WEST = "south-west"
    NORTH_WEST = "north-west"


@dataclass(frozen=True)
class Part:
    """One file of a data set: its name and address, and the box of degrees it covers."""

    name: str
    address: str
    bounds: tuple[float, float, float, float]  # west, south, east, north


@dataclass(frozen=True)
class TileSource:
    """A data set in parts of whole degrees.

    name : as it is asked for; title : what it is called. pattern : address after the server's own, with
    {n42}, {w072}, {N42}, {W072} for the corner named; server : where it lies. side_deg : of a part.
    pixels_per_degree : down a meridian. bytes_per_pixel : as it comes over the network, about.
    where : of the world. read_on : the day its address and terms were last held against the provider's own
    pages, as 2026-11-24; empty while all of it is from memory.
    """

    name: str
    title: str
    ground: Ground
    where: str
    server: str
    pattern: str
    corner: Corner
    side_deg: int
    pixels_per_degree: int
    bytes_per_pixel: float
    licence: str
    credit: str
    read_on: str = ""

    @property
    def known(self) -> str:
        """How far to trust address, licence and credit, in a sentence."""
        if self.read_on:
            return f"Address and terms were read on the provider's own pages on {self.read_on}."
        return (
            "Address, terms and credit are from memory and were not checked: read the provider's own pages"
            " before you rely on them or hand a map round."
        )

    def parts(self, box: tuple[float, float, float, float], *, server: str = "") -> tuple[Part, ...]:
        """The files that a box of degrees (west, south, east, north) touches, by name.

        server : another place that holds the same files. A box over the date line has east beyond 180.
        """
        west, south, east, north = box
        step = self.side_deg
        found = []
        for lower in range(math.floor(south / step) * step, math.ceil(north / step) * step, step):
            for left in range(math.floor(west / step) * step, math.ceil(east / step) * step, step):
                turned = (left + 180) % 360 - 180
                named = lower + step if self.corner is Corner.NORTH_WEST else lower
                cell = cell_name(named if named >= 0 else named + 0.5, turned + 0.5)
                path = self.pattern.format(
                    N42=cell[:3], W072=cell[3:], n42=cell[:3].lower(), w072=cell[3:].lower()
                )
                address = f"{(server or self.server).rstrip('/')}/{path}"
                found.append(
                    Part(path.rsplit("/", 1)[-1], address, (turned, lower, turned + step, lower + step))
                )
        return tuple(sorted(found, key=lambda part: part.name))

    def expected_bytes(self, box: tuple[float, float, float, float]) -> int:
        """About how much a box of degrees takes."""
        west, south, east, north = box
        pixels = (north - south) * (east - west) * self.pixels_per_degree**2
        return int(pixels * self.bytes_per_pixel)


SURFACE_30M = TileSource(
    name="world-surface",
    title="Copernicus DEM GLO-30, 30 m",
    ground=Ground.SURFACE,
    where="the whole world but a few countries",
    server="https://copernicus-dem-30m.s3.amazonaws.com",
    pattern="Copernicus_DSM_COG_10_{N42}_00_{W072}_00_DEM/Copernicus_DSM_COG_10_{N42}_00_{W072}_00_DEM.tif",
    corner=Corner.SOUTH_WEST,
    side_deg=1,
    pixels_per_degree=3600,
    bytes_per_pixel=2.6,
    licence="free of charge under the licence of the Copernicus programme; the credit has to be shown",
    credit="Elevation: produced using Copernicus WorldDEM-30 © DLR e.V. 2010-2014 and © Airbus Defence and"
    " Space GmbH 2014-2018 provided under COPERNICUS by the European Union and ESA; all rights reserved",
)
GROUND_10M = TileSource(
    name="usa-ground",
    title="USGS 3DEP, 1/3 arc-second, 10 m",
    ground=Ground.BARE,
    where="the United States",
    server="https://prd-tnm.s3.amazonaws.com",
    pattern="StagedProducts/Elevation/13/TIFF/current/{n42}{w072}/USGS_13_{n42}{w072}.tif",
    corner=Corner.NORTH_WEST,
    side_deg=1,
    pixels_per_degree=10800,
    bytes_per_pixel=2.6,
    licence="public domain; the credit is asked for",
    credit="Elevation: U.S. Geological Survey, 3D Elevation Program",
)
COVER_10M = TileSource(
    name="world-cover",
    title="ESA WorldCover 2021, 10 m",
    ground=Ground.COVER,
    where="the whole world",
    server="https://esa-worldcover.s3.eu-central-1.amazonaws.com",
    pattern="v200/2021/map/ESA_WorldCover_10m_2021_v200_{N42}{W072}_Map.tif",
    corner=Corner.SOUTH_WEST,
    side_deg=3,
    pixels_per_degree=12000,
    bytes_per_pixel=0.15,
    licence="Creative Commons Attribution 4.0; the credit has to be shown",
    credit="Land cover: © ESA WorldCover project / Contains modified Copernicus Sentinel data (2021)"
    " processed by ESA WorldCover consortium",
)
SOURCES = (SURFACE_30M, GROUND_10M, COVER_10M)


def source_named(name: str) -> TileSource | None:
    """The source of that name, any case; None when there is none."""
    return next((source for source in SOURCES if source.name == name.strip().lower()), None)
