"""A whole net folder on real ground, from its files to received signals, worked again with other libraries.

Ground: the elevation sample that ships inside matplotlib. Points along the paths: geographiclib (PyPI).
Heights: scipy. Diffraction: pycraf's P.452 (PyPI), which shares delta-Bullington with P.526. Levels: added up
by hand. The stations are invented.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_bounds

from reach.inputs.club import read_net
from reach.links.network import RepeaterNetwork, SimplexNetwork
from reach.links.repeater_survey import survey_repeater
from reach.links.survey import survey_simplex
from reach.stations import Net
from reach.terrain.sampling import sample_profile
from reach.terrain.tiles import Terrain

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    pathprof = pytest.importorskip("pycraf.pathprof", reason="pycraf is not installed")
    from astropy import units as u
    from geographiclib.geodesic import Geodesic
    from scipy.interpolate import RegularGridInterpolator

FREQUENCY_MHZ = 146.52
# k = 4/3 in P.452's terms: 157 / (157 - delta N)
LAPSE_N_PER_KM = 157.0 * (1.0 - 3.0 / 4.0)

NET = f"""
[net]
name = "Invented net on real ground"
noise = "rural"
model = "delta_bullington"
k_factor = {4.0 / 3.0!r}

[[channels]]
name = "two metres"
frequency_mhz = {FREQUENCY_MHZ}

[[repeaters]]
call_sign = "QK9RPT/R"
latitude = 36.60
longitude = -84.24
output_mhz = 146.94
offset_mhz = -0.6
power_w = 50
gain_dbi = 8
antenna_height_m = 20
feed_loss_db = 1
duplexer_loss_db = 1.5
"""
# every figure a link's level is made of, so that nothing of it comes from defaults
ROSTER = """call_sign,latitude,longitude,category,antenna_height_m,power_w,gain_dbi,feed_loss_db
QK9AAA,36.46,-84.40,base,10,50,5,1
QK9AAB,36.71,-84.40,base,8,25,2,2
QK9AAC,36.70,-84.10,base,12,100,6,1.5
QK9AAD,36.47,-84.10,base,6,10,2,0.5
QK9AAE,36.58,-84.25,base,9,25,5,1
QK9AAF,36.52,-84.30,base,7,50,0,3
"""
MOST_DB = 0.03  # measured 0.017 at most: wavelength 0.3/f there, 0.2998/f here; float32 heights


@dataclass(frozen=True)
class Worked:
    net: Net
    simplex: SimplexNetwork
    repeater: RepeaterNetwork
    intervals: dict[frozenset[str], int]  # how finely each path was sampled


@pytest.fixture(scope="module")
def sample() -> Any:
    from matplotlib import cbook

    with cbook.get_sample_data("jacksboro_fault_dem.npz") as opened:
        return {name: np.asarray(opened[name], dtype=np.float64) for name in opened}


@pytest.fixture(scope="module")
def worked(sample: Any, tmp_path_factory: pytest.TempPathFactory) -> Worked:
    folder = tmp_path_factory.mktemp("net")
    (folder / "net.toml").write_text(NET, encoding="utf-8")
    (folder / "roster.csv").write_text(ROSTER, encoding="utf-8")
    (folder / "terrain").mkdir()
    ground = sample["elevation"]
    south, north = sorted((float(sample["ymin"]), float(sample["ymax"])))  # swapped in the sample
    with rasterio.open(
        folder / "terrain" / "hills.tif",
        "w",
        driver="GTiff",
        width=ground.shape[1],
        height=ground.shape[0],
        count=1,
        dtype="int16",
        crs="EPSG:4326",
        transform=from_bounds(
            float(sample["xmin"]), south, float(sample["xmax"]), north, ground.shape[1], ground.shape[0]
        ),
    ) as tile:
        tile.write(ground.astype(np.int16), 1)
        tile.units = ("m",)
    net = read_net(folder)
    with Terrain.open(net.terrain_folders) as terrain:
        ends = [*net.stations, *net.repeaters]
        intervals = {
            frozenset((a.call_sign, b.call_sign)): len(
                sample_profile(terrain, a.position, b.position).distance_m
            )
            - 1
            for a in ends
            for b in ends
            if a is not b
        }
        return Worked(
            net,
            survey_simplex(net, terrain, net.channels[0]),
            survey_repeater(net, terrain, net.repeaters[0]),
            intervals,
        )


class Path(NamedTuple):
    """loss_db; elevation of the path where it leaves tx and rx, degrees."""

    loss_db: float
    tx_elevation_deg: float
    rx_elevation_deg: float


def path_found(worked: Worked, sample: Any, *, tx: Any, rx: Any, frequency_mhz: float) -> Path:
    """Free space and P.452 diffraction and horizons over points and heights found without this project."""
    line = Geodesic.WGS84.InverseLine(
        tx.position.latitude_deg,
        tx.position.longitude_deg,
        rx.position.latitude_deg,
        rx.position.longitude_deg,
    )
    intervals = worked.intervals[frozenset((tx.call_sign, rx.call_sign))]
    distance_m = np.linspace(0.0, line.s13, intervals + 1)
    places = [line.Position(s) for s in distance_m]
    rows, columns = sample["elevation"].shape
    south, north = sorted((float(sample["ymin"]), float(sample["ymax"])))
    west, east = float(sample["xmin"]), float(sample["xmax"])
    height, width = (north - south) / rows, (east - west) / columns
    ground = RegularGridInterpolator(
        (south + (np.arange(rows) + 0.5) * height, west + (np.arange(columns) + 0.5) * width),
        sample["elevation"][::-1],
    )
    heights_m = ground([(p["lat2"], p["lon2"]) for p in places])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        path = pathprof.PathProp(
            frequency_mhz / 1e3 * u.GHz,
            290.0 * u.K,
            1013.0 * u.hPa,
            tx.position.longitude_deg * u.deg,
            tx.position.latitude_deg * u.deg,
            rx.position.longitude_deg * u.deg,
            rx.position.latitude_deg * u.deg,
            tx.antenna.height_m * u.m,
            rx.antenna.height_m * u.m,
            float(distance_m[1]) * u.m,
            50.0 * u.percent,
            polarization=1,
            version=16,
            delta_N=LAPSE_N_PER_KM * u.Unit("1/km"),
            N0=325.0 * u.dimensionless_unscaled,
            hprof_dists=distance_m / 1e3 * u.km,
            hprof_heights=heights_m * u.m,
            hprof_bearing=line.azi1 * u.deg,
            hprof_backbearing=(places[-1]["azi2"] - 180.0) * u.deg,
        )
        diffraction_db = float(pathprof.loss_diffraction(path)[0].value)
        horizons_deg = [float(theta.to_value(u.deg)) for theta in (path.theta_t, path.theta_r)]
    # Rec. ITU-R P.525-4, eq. (4), over the straight line between the antennas: 32.45 + 20 log f + 20 log d
    rise_m = heights_m[0] + tx.antenna.height_m - heights_m[-1] - rx.antenna.height_m
    free_db = 32.45 + 20.0 * np.log10(frequency_mhz * np.hypot(line.s13, rise_m) / 1e3)
    return Path(free_db + diffraction_db, *horizons_deg)


def beside_db(gain_dbi: float, elevation_deg: float) -> float:
    """What an upright omni with gain loses off the horizontal: F.1336-5, recommends 2.1, near its axis."""
    loss_db = 12.0 * (elevation_deg / (107.6 * 10.0 ** (-0.1 * gain_dbi))) ** 2
    return float(loss_db) if gain_dbi > 2.15 and loss_db >= 0.05 else 0.0


def level_dbm(tx: Any, rx: Any, path: Path, *, more_loss_db: float = 0.0) -> float:
    """Power, less line, plus gain towards the path, less path, plus gain, less line."""
    return (
        tx.transmit_power_dbm
        - tx.feed_line.fixed_loss_db
        + tx.antenna.gain_dbi
        - beside_db(tx.antenna.gain_dbi, path.tx_elevation_deg)
        - path.loss_db
        + rx.antenna.gain_dbi
        - beside_db(rx.antenna.gain_dbi, path.rx_elevation_deg)
        - rx.feed_line.fixed_loss_db
        - more_loss_db
    )


def test_every_simplex_path_and_level(worked: Worked, sample: Any) -> None:
    losses = []
    for tx in worked.net.stations:
        for rx in worked.net.stations:
            if tx is rx:
                continue
            link = worked.simplex.link(tx.call_sign, rx.call_sign)
            expected = path_found(worked, sample, tx=tx, rx=rx, frequency_mhz=FREQUENCY_MHZ)
            assert link.path_loss_db == pytest.approx(expected.loss_db, abs=MOST_DB), (
                tx.call_sign,
                rx.call_sign,
            )
            assert link.received_dbm == pytest.approx(level_dbm(tx, rx, expected), abs=MOST_DB)
            losses.append(link.path_loss_db)
    assert len(losses) == 30 and max(losses) - min(losses) > 25.0  # hills, not a plain


def test_both_ways_to_the_repeater(worked: Worked, sample: Any) -> None:
    hub = worked.net.repeaters[0]
    for station in worked.net.stations:
        member = worked.repeater.member(station.call_sign)
        for link, tx, rx, mhz in (
            (member.talk_in, station, hub, 146.34),
            (member.talk_out, hub, station, 146.94),
        ):
            expected = path_found(worked, sample, tx=tx, rx=rx, frequency_mhz=mhz)
            assert link.path_loss_db == pytest.approx(expected.loss_db, abs=MOST_DB), station.call_sign
            assert link.received_dbm == pytest.approx(
                level_dbm(tx, rx, expected, more_loss_db=1.5), abs=MOST_DB
            )
