"""Sets of members and the best cells that reach them, against plain sorting."""

from __future__ import annotations

import numpy as np
import pytest

from reach.plans.sites.patterns import distinct_patterns


@pytest.mark.parametrize("words", [1, 2, 3])
def test_sets_and_their_best_cells_are_those_of_sorting_all(words: int) -> None:
    """Many cells with the same set and the same quality: the first cell of those as good."""
    rng = np.random.default_rng(words)
    planes = rng.integers(0, 4, (words, 3000)).astype(np.uint64)
    cells = rng.permutation(3000)
    quality_db = rng.integers(-5, 5, 3000).astype(np.float32)
    found = distinct_patterns(planes, cells, quality_db)
    wanted = np.unique(planes.T, axis=0)
    assert np.array_equal(found.words, wanted)
    assert np.array_equal(found.words[found.pattern_of], planes.T)
    order = np.lexsort((cells, -quality_db, found.pattern_of))
    first = np.searchsorted(found.pattern_of[order], np.arange(len(wanted)))
    assert np.array_equal(found.best_cells(), order[first])
