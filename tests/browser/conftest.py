"""The invented net of the drawing tests, and one offline browser for all tests here."""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass, field
from types import ModuleType

import pytest

from tests.drawings import invented_net

from .fonts import SETS, font_set


@pytest.fixture(scope="session")
def invented() -> ModuleType:
    return invented_net


@dataclass
class Visit:
    """A page that was opened, and everything it did that a quiet offline page does not."""

    page: object
    requests: list[str] = field(default_factory=list)
    troubles: list[str] = field(default_factory=list)


@pytest.fixture(scope="session")
def start_browser():
    """Start headless Chromium, with an environment of its own if given; the test is skipped where there is
    none, except on the build machine."""
    playwright = pytest.importorskip("playwright.sync_api")
    found = next(
        (p for n in ("chromium", "chromium-browser", "google-chrome") if (p := shutil.which(n))), None
    )
    if found is None:
        if os.environ.get("CI"):
            pytest.fail("no Chromium on PATH; the build machine must have one")
        pytest.skip("no Chromium on PATH")
    with playwright.sync_playwright() as driver:

        def start(**environment: str):
            return driver.chromium.launch(
                executable_path=found,
                args=["--no-sandbox", "--disable-gpu", "--disable-quic"],
                env={**os.environ, **environment},
            )

        yield start


@pytest.fixture(scope="session")
def browser(start_browser):
    """One browser with the fonts this machine has."""
    engine = start_browser()
    yield engine
    engine.close()


@pytest.fixture(scope="session", params=SETS)
def any_browser(request, start_browser, tmp_path_factory):
    """A browser for each set of fonts a machine may have."""
    engine = start_browser(FONTCONFIG_FILE=str(font_set(request.param, tmp_path_factory.mktemp("fonts"))))
    yield engine
    engine.close()


@pytest.fixture
def visit(browser, tmp_path):
    """Open a page's text from a file, with no network; gives a Visit."""
    contexts = []

    def go(text: str, *, width: int = 1360, height: int = 860, name: str = "page.html") -> Visit:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        context = browser.new_context(offline=True, viewport={"width": width, "height": height})
        contexts.append(context)
        page = context.new_page()
        seen = Visit(page)
        page.on("request", lambda r: None if r.url.startswith("data:") else seen.requests.append(r.url))
        page.on("pageerror", lambda e: seen.troubles.append(f"error: {e}"))
        page.on("console", lambda m: seen.troubles.append(f"console: {m.text}"))

        def refuse(dialog) -> None:
            seen.troubles.append(f"dialog: {dialog.message}")
            dialog.dismiss()

        page.on("dialog", refuse)
        page.goto(path.as_uri())
        page.wait_for_selector(".leaflet-marker-icon")
        assert seen.requests == [path.as_uri()]
        return seen

    yield go
    for context in contexts:
        context.close()
