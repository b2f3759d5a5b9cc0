"""Who can be in a smallest cover at all: what is in none of them need not be looked at by the optimiser."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from reach.plans.graph.reachability import BoolArray

_MOST_TRIED = 4_000  # sets looked at before the answer is "anybody"; up to a third of a second for 400 rows


def in_covers(covers: BoolArray, *, size: int) -> BoolArray:
    """(n,) candidates that stand in any set of `size` at most that covers every row.

    covers (rows, n) : whether candidate j covers row i. All are True where smaller sets do too, as anybody
    may then be added, and where too many sets would have to be looked at; none is where no such set exists.
    Cost : at most `_MOST_TRIED` sets. Each set is met once: the candidates of the row with the fewest of them
    are tried one after the other, those tried before left out.
    """
    needs = np.asarray(covers, dtype=np.bool_)
    search = _Search(
        rows=[sum(1 << int(c) for c in np.flatnonzero(row)) for row in needs],
        hits=[sum(1 << int(r) for r in np.flatnonzero(column)) for column in needs.T],
        widest=int(needs.sum(axis=0).max(initial=0)),
    )
    search.look((1 << len(needs)) - 1, chosen=0, out=0, left=size)
    if search.anybody:
        return np.ones(needs.shape[1], dtype=np.bool_)
    return np.array([search.members >> c & 1 for c in range(needs.shape[1])], dtype=np.bool_)


@dataclass
class _Search:
    """rows : candidates of each row, hits : rows of each candidate, as bits of whole numbers. widest : most
    rows that one covers."""

    rows: list[int]
    hits: list[int]
    widest: int
    members: int = 0
    anybody: bool = False
    tried: int = field(default=0)

    def look(self, open_rows: int, *, chosen: int, out: int, left: int) -> None:
        """Every cover that has `chosen`, none of `out`, and at most `left` more."""
        self.tried += 1
        if self.anybody or self.tried > _MOST_TRIED:
            self.anybody = True
        elif not open_rows:
            self.members |= chosen
            self.anybody = left > 0
        elif open_rows.bit_count() <= left * self.widest:
            _, may = min((may.bit_count(), may) for may in (self.rows[r] & ~out for r in _bits(open_rows)))
            for candidate in _bits(may):
                still = open_rows & ~self.hits[candidate]
                self.look(still, chosen=chosen | 1 << candidate, out=out, left=left - 1)
                out |= 1 << candidate


def _bits(number: int) -> list[int]:
    found = []
    while number:
        lowest = number & -number
        found.append(lowest.bit_length() - 1)
        number ^= lowest
    return found
