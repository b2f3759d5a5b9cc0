"""The invented net, as the fixture `invented`."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def invented() -> ModuleType:
    path = Path(__file__).resolve().with_name("invented_net.py")
    spec = importlib.util.spec_from_file_location("invented_net", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["invented_net"] = module
    spec.loader.exec_module(module)
    return module
