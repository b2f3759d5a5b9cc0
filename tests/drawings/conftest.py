"""The invented net, as the fixture `invented`."""

from __future__ import annotations

from types import ModuleType

import pytest

from tests.drawings import invented_net


@pytest.fixture(scope="session")
def invented() -> ModuleType:
    return invented_net
