"""Draw this folder again: run the demo, keep what it drew, photograph the pages in headless Chromium.

    .venv/bin/python maps/redraw.py

Needs a Chromium on the PATH (or its place in the variable CHROMIUM) and the test extra.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

HERE = Path(__file__).resolve().parent
KEPT = ("*.html", "*.png", "*.pdf", "*.txt", "*.csv", "*.gpx", "*.ics")
WIDTH, HEIGHT = 1400, 950


def main() -> None:
    """Run the demo in a temporary folder and replace this folder's drawings by what it made."""
    chromium = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        sys.exit("no chromium on the PATH; install it or name it in the variable CHROMIUM")
    with tempfile.TemporaryDirectory() as scratch:
        demo = Path(scratch) / "reach-demo"
        subprocess.run([sys.executable, "-m", "reach.commands.main", "demo", str(demo)], check=True)
        for pattern in KEPT:
            for old in HERE.glob(pattern):
                old.unlink()
            for new in sorted((demo / "maps").glob(pattern)):
                shutil.copy(new, HERE / new.name)
    with sync_playwright() as play:
        browser = play.chromium.launch(
            executable_path=chromium, args=["--no-sandbox", "--disable-gpu", "--disable-quic"]
        )
        page = browser.new_context(offline=True, viewport={"width": WIDTH, "height": HEIGHT}).new_page()
        for html in sorted(HERE.glob("*.html")):
            page.goto(html.as_uri())
            page.wait_for_timeout(600)
            page.screenshot(path=str(html.with_suffix(".png")))
        browser.close()


if __name__ == "__main__":
    main()
