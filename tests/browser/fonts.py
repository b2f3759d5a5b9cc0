"""Machines with other fonts: fontconfig files for a browser of their own."""

from __future__ import annotations

from pathlib import Path

import matplotlib

SETS = ("none", "wide", "odd")
_FILES = {
    "none": (),
    "wide": ("DejaVuSerif.ttf", "DejaVuSerif-Bold.ttf", "DejaVuSans.ttf"),  # a serif a fifth wider than most
    "odd": ("DejaVuSansMono.ttf", "cmmi10.ttf"),  # a typewriter's face and one of formulas: nothing for text
}


def font_set(name: str, folder: Path) -> Path:
    """A fontconfig file under which a browser finds just these fonts, copied from matplotlib's."""
    fonts = folder / "fonts"
    fonts.mkdir()
    for file in _FILES[name]:
        source = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / file
        (fonts / file).write_bytes(source.read_bytes())
    path = folder / "fonts.conf"
    path.write_text(
        '<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd">'
        f"<fontconfig><dir>{fonts}</dir><cachedir>{folder / 'cache'}</cachedir></fontconfig>",
        encoding="utf-8",
    )
    return path
