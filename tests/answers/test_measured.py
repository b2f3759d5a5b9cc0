"""Measured paths against the models: the known error of invented measurements is found again."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from reach.answers.measured import ALL, against_measured
from reach.errors import InputProblem
from reach.inputs.measured import parse_measured
from reach.links.paths import PathEnd, survey_paths
from reach.propagation.choose import choose_model
from reach.stations import Position
from reach.terrain.tiles import Terrain
from tests.answers.conftest import write_net

HEADING = "name,latitude_1,longitude_1,height_1_m,latitude_2,longitude_2,height_2_m,frequency_mhz,loss_db"
BIAS_DB, SPREAD_DB = 4.0, 6.0


@pytest.fixture(scope="module")
def ground(tmp_path_factory: pytest.TempPathFactory) -> Terrain:
    folder = write_net(tmp_path_factory.mktemp("measured") / "net", members=[])
    return Terrain.open([str(folder / "terrain")])


def test_a_known_bias_and_spread_are_found_again(ground: Terrain, tmp_path: Path) -> None:
    rng = np.random.default_rng(7)
    places = rng.uniform([41.28, -37.94], [41.47, -37.78], size=(300, 2, 2))
    rows = []
    for frequency_mhz, at in ((146.52, range(200)), (446.0, range(200, 300))):
        ends = [tuple(PathEnd(f"{k}{e}", Position(*places[k, e]), 9.0) for e in range(2)) for k in at]
        truth = survey_paths(
            ends,
            ground,
            choose_model("auto", frequency_mhz),
            frequencies_mhz=[frequency_mhz],  # type: ignore[arg-type]
        )
        errors = rng.normal(BIAS_DB, SPREAD_DB, len(ends))
        for number, k in enumerate(at):
            (a, b), loss = places[k], truth.path_loss_db[number, 0] - errors[number]
            rows.append(f"p{k},{a[0]},{a[1]},9,{b[0]},{b[1]},9,{frequency_mhz},{loss:.4f}")
    file = tmp_path / "measured.csv"
    file.write_text("\n".join([HEADING, *rows]))
    found = against_measured(file, ground)
    usual = next(one for one in found.of(ALL) if one.model == "typical_land")
    assert usual.paths == 300 and not found.faults
    assert usual.mean_db == pytest.approx(BIAS_DB, abs=3 * SPREAD_DB / 300**0.5)
    assert usual.sigma_db == pytest.approx(SPREAD_DB, rel=0.15)
    assert usual.ninth_db == pytest.approx(
        np.quantile(np.abs(rng.normal(BIAS_DB, SPREAD_DB, 99_999)), 0.9), rel=0.2
    )
    assert {"2 m", "70 cm"} <= set(found.groups) and len(found.rows.rows) == 300
    kinds = [group for group in found.groups if group.startswith(("clear", "behind", "in sight", "models"))]
    assert sum(found.of(kind)[0].paths for kind in kinds) == 300


def test_a_level_with_power_and_gains_is_a_loss() -> None:
    """47 dBm + 5 + 2 - 1 and -97 dBm received: 150 dB, by hand."""
    heading = HEADING.replace("loss_db", "level_dbm,power_w,gain_1_dbi,gain_2_dbi,line_losses_db")
    text = f"{heading}\np,41.3,-37.9,9,41.4,-37.8,2,146.52,-97,50.1187,5,2,1\n"
    ((path,), faults) = parse_measured(text, file="m.csv")
    assert not faults and path.loss_db == pytest.approx(150.0, abs=1e-4)


@pytest.mark.parametrize(
    ("cells", "says"),
    [
        ("x,91,-37.9,9,41.4,-37.8,2,146.52,120", "row 3"),
        ("x,41.3,-37.9,9,41.3,-37.9,2,146.52,120", "both ends at one place"),
        ("x,41.3,-37.9,,41.4,-37.8,2,146.52,120", "height_1 is missing"),
        ("x,41.3,-37.9,9,41.4,-37.8,2,146.52,", "neither a loss nor a level"),
        ("x,41.3,-37.9,9,41.4,-37.8,2,146.52,nan", "nan"),
    ],
)
def test_bad_rows_are_named_and_good_ones_kept(cells: str, says: str) -> None:
    good = "g,41.3,-37.9,9,41.4,-37.8,2,146.52,120"
    paths, faults = parse_measured(f"{HEADING}\n{good}\n{cells}\n", file="m.csv")
    assert [path.name for path in paths] == ["g"]
    assert len(faults) == 1 and says in str(faults[0]) and "row 3" in str(faults[0])


def test_an_end_off_the_tiles_and_an_empty_file_are_refused(ground: Terrain, tmp_path: Path) -> None:
    file = tmp_path / "m.csv"
    file.write_text(f"{HEADING}\ng,41.3,-37.9,9,42.4,-37.8,2,146.52,120\n")
    with pytest.raises(InputProblem, match="no elevation"):
        against_measured(file, ground)
    file.write_text("")
    with pytest.raises(InputProblem, match="is empty"):
        against_measured(file, ground)
