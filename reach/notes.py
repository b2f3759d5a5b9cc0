"""What to beware of, as records: of what kind, about whom, and in words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum


class NoteKind(Enum):
    """What a note is about."""

    DATA = "data"  # what the user's files say
    BAND = "band"  # a frequency against the band plans
    LAND = "land"  # land cover, surroundings, surface
    GROUND = "ground"  # missing or doubtful elevation
    MODEL = "model"  # a model used at or beyond its limits
    PATH = "path"  # paths that want a second look
    HEARD = "heard"  # reports behind the figures, or left aside


@dataclass(frozen=True)
class Note:
    """One thing to beware of. subject : call signs or a channel, '' for the net; text : a sentence."""

    kind: NoteKind
    subject: str
    text: str

    def __str__(self) -> str:
        return self.text


def texts(*groups: Iterable[Note | str]) -> tuple[str, ...]:
    """The sentences of several sources in their order, each once."""
    return tuple(dict.fromkeys(str(note) for group in groups for note in group))


def once(*groups: Iterable[Note]) -> tuple[Note, ...]:
    """The notes of several sources in their order, each once."""
    return tuple(dict.fromkeys(note for group in groups for note in group))
