"""One desk of a small net for all tests here."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.answers.small_net import made_in
from tests.desk.running import Client, client, running


@pytest.fixture(scope="session")
def net(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made_in(tmp_path_factory.mktemp("desk"))


@pytest.fixture(scope="session")
def ours(net: Path) -> Iterator[Client]:
    """Our own page at a desk whose net has begun."""
    with running(net) as desk:
        page = client(desk)
        assert page.note("opened", {"on": "two metres", "control": "QK1A"}).status == 200
        yield page
