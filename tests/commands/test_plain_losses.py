"""Losses that `reach simplex` writes, worked again by P.1812 written a second time in plain numpy."""

from __future__ import annotations

import csv
import io
import os
import runpy
from pathlib import Path

import pytest

from reach.inputs.net_folder import read_net_folder
from reach.propagation.p1812.model import P1812Settings
from reach.terrain.sampling import sample_profile
from reach.terrain.tiles import Terrain

from .conftest import Run

PLAIN = runpy.run_path(str(Path(__file__).parents[1] / "propagation" / "plain_p1812.py"))["p1812_loss_db"]


def test_losses_of_the_demo_are_those_of_the_plain_model(club: Path, reach_here: Run, tmp_path: Path) -> None:
    folder = tmp_path / "bare"
    folder.mkdir()
    toml = (club / "net.toml").read_text(encoding="utf-8").replace("[net]", '[net]\nmodel = "p1812"')
    (folder / "net.toml").write_text(toml, encoding="utf-8")
    (folder / "roster.csv").write_bytes((club / "roster.csv").read_bytes())
    os.symlink(club / "terrain", folder / "terrain")
    run = reach_here("simplex", folder, "--csv", "-")
    assert run.returncode == 0, run.stderr
    rows = list(csv.DictReader(io.StringIO(run.stdout)))
    net = read_net_folder(folder).net
    stations = {station.call_sign: station for station in net.stations}
    settings = P1812Settings()
    checked = 0
    with Terrain.open(net.terrain_folders, elevation_unit=net.elevation_unit) as terrain:
        for row in rows[::23]:
            tx, rx = stations[row["hears"]], stations[row["station"]]
            profile = sample_profile(terrain, tx.position, rx.position)
            plain_db = PLAIN(
                d=profile.distance_m / 1e3,
                h=profile.ground_m,
                clutter=profile.clutter_m,
                zone=profile.zone,
                phi=profile.mid_latitude_deg,
                htg=tx.antenna.height_m,
                hrg=rx.antenna.height_m,
                f=float(row["frequency_mhz"]) / 1e3,
                vertical=True,
                p=settings.time_percent,
                pl=settings.location_percent,
            )
            assert float(row["path_loss_db"]) == pytest.approx(plain_db, abs=0.001), row
            checked += 1
    assert checked > 15
