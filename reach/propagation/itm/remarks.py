"""ITM: what is doubtful about the paths of a batch, worded only when somebody reads it.

A large batch in rough country has several remarks a path; wording them all takes longer than the losses.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property
from itertools import chain
from typing import overload

import numpy as np
from numpy.typing import NDArray

from reach.propagation.itm.settings import SKYWAVE_BELOW_MHZ, SKYWAVE_WORDS, warning_words

FEWEST_INTERVALS = 10  # below, the profile says too little; our own line, the reference draws none

SPARSE, SKYWAVE = 0x10000, 0x20000  # beyond the bits of ItmWarning

Remark = tuple[int, str]


class Remarks(Sequence[Remark]):
    """(path, text) pairs in path order; equal to any sequence of the same pairs."""

    def __init__(
        self, points: NDArray[np.int64], frequency_mhz: NDArray[np.float64], flags: NDArray[np.int64]
    ) -> None:
        """points, frequency_mhz, flags (bits of `ItmWarning`) : (paths,)."""
        sparse = points - 1 < FEWEST_INTERVALS
        skywave = frequency_mhz < SKYWAVE_BELOW_MHZ
        self._kind = flags + (sparse * SPARSE) + (skywave * SKYWAVE)

    @cached_property
    def _pairs(self) -> tuple[Remark, ...]:
        doubtful = np.flatnonzero(self._kind)
        kinds = self._kind[doubtful].tolist()
        words = {kind: words_of(kind) for kind in set(kinds)}
        texts = [words[kind] for kind in kinds]
        paths = np.repeat(doubtful, np.array([len(of_path) for of_path in texts], dtype=np.int64))
        return tuple(zip(paths.tolist(), chain.from_iterable(texts), strict=True))

    @overload
    def __getitem__(self, index: int) -> Remark: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[Remark, ...]: ...
    def __getitem__(self, index: int | slice) -> Remark | tuple[Remark, ...]:
        return self._pairs[index]

    def __len__(self) -> int:
        return len(self._pairs)

    def __iter__(self) -> Iterator[Remark]:
        return iter(self._pairs)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Sequence):
            return NotImplemented
        return self._pairs == tuple(other)

    def __hash__(self) -> int:
        return hash(self._pairs)

    def __repr__(self) -> str:
        return repr(self._pairs)


def words_of(kind: int) -> tuple[str, ...]:
    """Plain words for a path's warning bits and our own two."""
    words = warning_words(kind % SPARSE)
    if kind & SKYWAVE:
        words += (SKYWAVE_WORDS,)
    if kind & SPARSE:
        words += (f"profile has fewer points than the {FEWEST_INTERVALS + 1} ITM should have",)
    return words
