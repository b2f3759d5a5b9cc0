"""What a tile's heights are heights of: bare ground, or a surface with trees and roofs in it.

Told by words of the file's name, of its tags and of the folders it lies in, in that order. The .hgt format
is that of the radar mission of February 2000, whose heights lie between the ground and the tree tops
(Rodriguez et al., An assessment of the SRTM topographic products, JPL D-31639, 2005; from memory), so it
counts as a surface unless a word says otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from enum import Enum


class Heights(Enum):
    """What heights are of."""

    GROUND = "bare ground"
    SURFACE = "a surface model, whose heights hold trees and roofs at least in part"
    UNSAID = "not said"  # counts as bare ground


_SURFACE_WORDS = frozenset(
    {"dsm", "surface", "glo30", "glo90", "cop30", "cop90", "alpsmlc30", "aw3d30", "astgtm", "astgtmv003",
     "astergdem", "srtm", "srtmgl1", "srtmgl3", "nasadem"}
)  # fmt: skip
_GROUND_WORDS = frozenset({"dtm", "dgm", "mdt", "mnt", "bare", "bareearth", "fabdem"})
_SURFACE_TEXT = re.compile(r"\bdsm\b|surface[ _-]+(model|elevation|height)|first[ _-]+return", re.IGNORECASE)
_GROUND_TEXT = re.compile(r"\bdtm\b|terrain[ _-]+model|bare[ _-]*(earth|ground)", re.IGNORECASE)
_LONGEST_TAG = 2000


def of_words(text: str) -> Heights:
    """What a file's or folder's name says."""
    words = set(re.split(r"[^0-9a-z]+", text.lower()))
    if words & _GROUND_WORDS:  # "DSM to DTM": what was made of it counts
        return Heights.GROUND
    return Heights.SURFACE if words & _SURFACE_WORDS else Heights.UNSAID


def of_tags(values: Iterable[str]) -> Heights:
    """What the tags of a raster say, together."""
    text = "\n".join(value[:_LONGEST_TAG] for value in values)
    if _GROUND_TEXT.search(text):
        return Heights.GROUND
    return Heights.SURFACE if _SURFACE_TEXT.search(text) else Heights.UNSAID


def heights_of(*, name: str, tags: Iterable[str], folders: Iterable[str], driver: str) -> Heights:
    """What a raster's heights are of.

    name : of its file; tags : every tag's value; folders : names of those it lies in, the nearest first;
    driver : GDAL's name of its format.
    """
    for said in (of_words(name), of_tags(tags), *(of_words(folder) for folder in folders)):
        if said is not Heights.UNSAID:
            return said
    return Heights.SURFACE if driver == "SRTMHGT" else Heights.UNSAID
