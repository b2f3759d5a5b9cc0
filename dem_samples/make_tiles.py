"""Make the invented elevation tiles of this folder anew: `python dem_samples/make_tiles.py [FOLDER]`."""

from __future__ import annotations

import sys
from pathlib import Path

from reach.demo.relief import make_relief
from reach.files import Existing


def main() -> None:
    """Write the tiles to the folder named, or to this file's own, over any that are there."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent
    for path in make_relief(folder, existing=Existing.REPLACE):
        print(path)


if __name__ == "__main__":
    main()
