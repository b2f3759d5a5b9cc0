"""Which sets of members the cells of a search area reach: few distinct sets stand for millions of cells.

A set is kept as bits, one row of uint64 words. Cells with the same set are as good as each other for who is
linked; a set contained in another can never be needed for it. Both reductions are exact.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

BITS = 64
Words = NDArray[np.uint64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class Patterns:
    """Distinct sets, and where they are found.

    words : (n, w) uint64; bit j % 64 of word j // 64 is the j-th member (or group).
    pattern_of : (cells,) row of `words` of each candidate cell; cells : (cells,) the candidates' numbers.
    quality_db : (cells,) how good a cell is among those with the same set.
    """

    words: Words
    pattern_of: NDArray[np.int64]
    cells: NDArray[np.int64]
    quality_db: NDArray[np.float32]

    def __len__(self) -> int:
        return int(self.words.shape[0])

    def best_cells(self) -> NDArray[np.int64]:
        """(n,) the candidate (its place in `cells`) of highest quality for each set; ties: the first cell."""
        most_db = np.full(len(self), -np.inf, dtype=np.float32)
        np.maximum.at(most_db, self.pattern_of, self.quality_db)
        as_good = np.flatnonzero(self.quality_db == most_db[self.pattern_of])  # few, of millions
        order = as_good[np.lexsort((self.cells[as_good], self.pattern_of[as_good]))]
        first = np.searchsorted(self.pattern_of[order], np.arange(len(self)))
        best: NDArray[np.int64] = order[first]
        return best


def distinct_patterns(planes: Words, cells: NDArray[np.int64], quality_db: NDArray[np.float32]) -> Patterns:
    """The distinct sets at some cells. planes : (w, cells) words of each; sets come in ascending order.

    Neighbours mostly reach the same members, so only the first cell of each run is sorted.
    """
    starts = np.ones(planes.shape[1], dtype=np.bool_)
    starts[1:] = (planes[:, 1:] != planes[:, :-1]).any(axis=0)
    begin = np.flatnonzero(starts)
    first, number = np.unique(planes[0, begin], return_inverse=True)
    columns: list[Words] = [first]
    for plane in planes[1:]:
        values, inverse = np.unique(plane[begin], return_inverse=True)
        joined = number * values.size + inverse
        kept, number = np.unique(joined, return_inverse=True)
        columns = [column[kept // values.size] for column in columns] + [values[kept % values.size]]
    of_cell = np.repeat(number, np.diff(begin, append=planes.shape[1]))
    return Patterns(np.stack(columns, axis=1), of_cell, cells, quality_db)


def regrouped(patterns: Patterns, words: Words) -> Patterns:
    """The same cells with each set replaced by another, row by row; sets that become empty are dropped."""
    filled = words.any(axis=1)
    number = np.full(len(patterns), -1, dtype=np.int64)
    if not filled.any():
        none = np.zeros(0, dtype=np.int64)
        return Patterns(words[:0], none, none, np.zeros(0, dtype=np.float32))
    count = int(filled.sum())
    made = distinct_patterns(words[filled].T, np.arange(count), np.zeros(count, dtype=np.float32))
    number[filled] = made.pattern_of
    of_cell = number[patterns.pattern_of]
    kept = of_cell >= 0
    return Patterns(made.words, of_cell[kept], patterns.cells[kept], patterns.quality_db[kept])


def members_of(words: Words, count: int) -> BoolArray:
    """(n, count) truth values of (n, w) words."""
    place = np.arange(count)
    shifted = words[:, place // BITS] >> (place % BITS).astype(np.uint64)
    members: BoolArray = (shifted & np.uint64(1)).astype(np.bool_)
    return members


def words_of(members: BoolArray) -> Words:
    """(n, w) words of (n, count) truth values."""
    n, count = members.shape
    words = np.zeros((n, max(1, -(-count // BITS))), dtype=np.uint64)
    for j in range(count):
        words[:, j // BITS] |= members[:, j].astype(np.uint64) << np.uint64(j % BITS)
    return words


def maximal(words: Words) -> NDArray[np.int64]:
    """Rows contained in no other row, by falling size, then ascending. Rows must be distinct."""
    size = members_of(words, words.shape[1] * BITS).sum(axis=1)
    left = np.lexsort((*words.T[::-1], -size))
    found: list[int] = []
    while left.size:
        top = left[0]
        found.append(int(top))
        beyond = (words[left] & ~words[top]).any(axis=1)
        left = left[beyond]
    return np.array(found, dtype=np.int64)
