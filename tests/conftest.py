"""What all tests share: the invented land, which takes seconds to shape, is shaped once."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import pytest


@pytest.fixture(scope="session")
def land_shaped_once() -> Iterator[None]:
    """Every `make_relief` of this process takes the same strips; its tiles are written each time anew."""
    from reach.demo import relief

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(relief, "relief_strips", lru_cache(maxsize=1)(relief.relief_strips))
        yield
