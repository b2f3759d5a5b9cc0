"""Where the guide lies, and the whole of it in one file."""

from __future__ import annotations

import base64
import re
from pathlib import Path

HERE = Path(__file__).parent
FILE = "guide.html"


def guide_place() -> Path:
    """The page as it was installed, its pictures beside it."""
    return HERE / FILE


def whole_guide() -> str:
    """The page with its pictures inside."""

    def inside(found: re.Match[str]) -> str:
        picture = (HERE / found[1]).read_bytes()
        return f'src="data:image/jpeg;base64,{base64.b64encode(picture).decode("ascii")}"'

    return re.sub(r'src="([a-z]+\.jpg)"', inside, guide_place().read_text(encoding="utf-8"))
