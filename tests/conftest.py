"""What all tests share: two processes for the whole suite, and the invented land, which takes seconds to
shape, shaped once in each."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import pytest

PROCESSES = 2


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """One process for a single file, for benches, which would share the machine, and for what talks (-s)."""
    if config.getoption("benchmark_enable", False) or config.getoption("capture") == "no":
        return 0
    asked = [Path(argument.partition("::")[0]) for argument in config.args]
    return 0 if len(asked) == 1 and asked[0].is_file() else PROCESSES


@pytest.fixture(scope="session")
def land_shaped_once() -> Iterator[None]:
    """Every `make_relief` of this process takes the same strips; its tiles are written each time anew."""
    from reach.demo import relief

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(relief, "relief_strips", lru_cache(maxsize=1)(relief.relief_strips))
        yield
