"""`reach demo`: the main job on an invented club, everything drawn."""

from __future__ import annotations

from pathlib import Path

import click

from reach.commands.options import progress_bar, replace_option, speak
from reach.files import Existing, write_bytes


@click.command("demo")
@click.argument("folder", type=click.Path(path_type=Path), default=Path("reach-demo"))
@replace_option
def command(folder: Path, existing: Existing) -> None:
    """Plan an invented club on invented terrain: its net folder, and every map and table in FOLDER/maps.

    FOLDER is reach-demo unless named.
    """
    from reach.answers.open_net import open_net
    from reach.demo.drawings import demo_drawings
    from reach.demo.folder import claim_demo_folder, make_demo_folder
    from reach.drawings.style.cautions import SHORT

    claim_demo_folder(folder, existing=existing)
    with progress_bar("making the terrain") as progress:
        make_demo_folder(folder, existing=existing, progress=progress)
    maps = folder / "maps"
    maps.mkdir(exist_ok=True)
    with open_net(folder) as opened:
        for drawn in demo_drawings(opened, watch=progress_bar):
            for name, data in drawn.files:
                write_bytes(maps / name, data, existing)
            speak(drawn.sentence)
            speak(f"    {', '.join(str(maps / name) for name, _ in drawn.files)}")
    speak(
        f"\nEverything is in {folder}: open {maps / 'simplex.html'} in a browser, and try\n"
        f"  reach check {folder}\n"
        f"  reach simplex {folder}\n"
        f"  reach path {folder} QK3CDR QK3MPL\n"
        f"{SHORT}"
    )
