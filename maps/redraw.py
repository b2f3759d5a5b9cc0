"""Draw this folder again: run the demo, keep what it drew, photograph the pages in headless Chromium.

    .venv/bin/python maps/redraw.py

Needs a Chromium on the PATH (or its place in the variable CHROMIUM), pdftoppm and the test extra.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import ViewportSize, sync_playwright

HERE = Path(__file__).resolve().parent
KEPT = ("*.html", "*.png", "*.pdf", "*.txt", "*.csv", "*.gpx", "*.ics")
# what other commands draw of the same club; CLUB stands for its folder, MAPS for the folder drawn into
MORE = (
    ("area", "CLUB", "QK3RA", "QK3RB", "--kind", "handheld", "--radius", "45 km", "--resolution", "60 m",
     "--map", "MAPS/area.html"),
    ("sites", "CLUB", "--resolution", "90 m", "--map", "MAPS/sites.html", "--gpx", "MAPS/sites.gpx"),
    ("kit", "CLUB", "QK3MPL", "--pdf", "MAPS/kit-QK3MPL.pdf"),
)  # fmt: skip
WIDTH, HEIGHT = 1400, 950
GUIDE = ("simplex", "area", "backup", "sheet")  # pictures of the guide
GUIDE_SIZE: ViewportSize = {"width": 1120, "height": 780}


def reach(*words: str) -> None:
    """Run one command as a user does."""
    subprocess.run([sys.executable, "-m", "reach.commands.main", *words], check=True)


def main() -> None:
    """Run the demo in a temporary folder and replace this folder's drawings by what it made."""
    chromium = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        sys.exit("no chromium on the PATH; install it or name it in the variable CHROMIUM")
    with tempfile.TemporaryDirectory() as scratch:
        demo = Path(scratch) / "reach-demo"
        reach("demo", str(demo))
        for words in MORE:
            reach(*(w.replace("CLUB", str(demo)).replace("MAPS", str(demo / "maps")) for w in words))
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
        book = browser.new_context(offline=True, viewport=GUIDE_SIZE, device_scale_factor=0.8).new_page()
        for name in GUIDE:
            book.goto((HERE / f"{name}.html").as_uri())
            book.wait_for_timeout(600)
            picture = HERE.parent / "reach" / "drawings" / "guide" / f"{name}.jpg"
            book.screenshot(path=str(picture), type="jpeg", quality=72)
        browser.close()
    for paper in sorted(HERE.glob("*.pdf")):
        subprocess.run(
            ["pdftoppm", "-r", "80", "-png", "-singlefile", str(paper), str(paper.with_suffix(""))],
            check=True,
        )


if __name__ == "__main__":
    main()
