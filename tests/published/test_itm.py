"""ITM against the reference implementation's test rows and its results on invented terrain.

Source : test material of the NTIA reference implementation of ITM (Institute for Telecommunication
    Sciences), kept in reach/selfcheck/cases, whose README says more; columns after `published_loss_db` come
    from that implementation, compiled. The printed values are rounded: half a unit of the last digit plus
    0.002 dB.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from reach.propagation.itm.diffraction import height_gain_db, knife_edge_db
from reach.propagation.itm.ground import effective_earth_radius_m, ground_impedance, surface_refractivity
from reach.propagation.itm.model import ItmModel, ItmResult
from reach.propagation.itm.settings import LeftOut, Percentages, VariabilityMode
from reach.propagation.itm.terrain import fitted_ends, roughness_m, surface_deviation_m
from reach.propagation.itm.troposcatter import frequency_gain_db
from reach.propagation.itm.variability import deviate, time_spreads_db
from reach.selfcheck.cases import itm_model, itm_profiles, rows
from reach.stations import Polarisation
from reach.terrain.profile import Profile, ProfileBatch


@dataclass(frozen=True)
class Case:
    row: dict[str, str]
    profile: Profile

    @property
    def model(self) -> ItmModel:
        return itm_model(self.row)

    @property
    def polarisation(self) -> Polarisation:
        return Polarisation.VERTICAL if self.row["polarization"] == "1" else Polarisation.HORIZONTAL

    def result(self) -> ItmResult:
        return self.model.details(
            self.profile,
            tx_height_m=float(self.row["tx_height_m"]),
            rx_height_m=float(self.row["rx_height_m"]),
            frequency_mhz=float(self.row["frequency_mhz"]),
            polarisation=self.polarisation,
        )


def read_cases() -> list[Case]:
    return [Case(row, itm_profiles()[row["case_id"]]) for row in rows("itm")]


@pytest.fixture(params=read_cases(), ids=lambda case: case.row["case_id"])
def case(request: pytest.FixtureRequest) -> Case:
    return request.param


def test_every_intermediate_value_is_the_references(case: Case) -> None:
    """To the last digit given there."""
    result, row = case.result(), case.row
    found = {
        "loss_db": (result.loss_db, 6e-7),
        "a_ref_db": (result.reference_db, 6e-7),
        "a_fs_db": (result.free_space_db, 6e-7),
        "theta_hzn_tx_rad": (result.tx_horizon_rad, 6e-10),
        "theta_hzn_rx_rad": (result.rx_horizon_rad, 6e-10),
        "d_hzn_tx_m": (result.tx_horizon_m, 7e-5),
        "d_hzn_rx_m": (result.rx_horizon_m, 7e-5),
        "h_eff_tx_m": (result.tx_effective_height_m, 6e-6),
        "h_eff_rx_m": (result.rx_effective_height_m, 6e-6),
        "n_s_n_units": (result.refractivity_n_units, 6e-6),
        "delta_h_m": (result.irregularity_m, 6e-6),
    }
    for name, (value, tolerance) in found.items():
        assert value == pytest.approx(float(row[name]), abs=tolerance), name
    assert result.region.value == int(row["mode"])
    assert int(result.flags) == int(row["warning_flags"])
    assert bool(result.flags) == bool(int(row["return_code"]))


def test_printed_losses(case: Case) -> None:
    printed = case.row["published_loss_db"]
    if not printed:
        pytest.skip("no printed value for invented terrain")
    half_a_digit = 0.5 * 10.0 ** -len(printed.partition(".")[2])
    assert case.result().loss_db == pytest.approx(float(printed), abs=half_a_digit + 0.002)


def test_other_direction_loses_the_same(case: Case) -> None:
    swapped = case.model.details(
        case.profile.reversed(),
        tx_height_m=float(case.row["rx_height_m"]),
        rx_height_m=float(case.row["tx_height_m"]),
        frequency_mhz=float(case.row["frequency_mhz"]),
        polarisation=case.polarisation,
    )
    assert swapped.loss_db == pytest.approx(case.result().loss_db, abs=1e-8)
    assert swapped.region is case.result().region


def test_batch_gives_the_same_numbers(case: Case) -> None:
    """Twice in one batch, the second behind the first's points."""
    batch = case.model.batch_details(
        ProfileBatch.of([case.profile, case.profile.reversed(), case.profile]),
        tx_height_m=float(case.row["tx_height_m"]),
        rx_height_m=float(case.row["rx_height_m"]),
        frequency_mhz=float(case.row["frequency_mhz"]),
        polarisation=case.polarisation,
    )
    assert batch.loss_db[[0, 2]].tolist() == [case.result().loss_db] * 2


@pytest.mark.parametrize("mdvar", [0, 1, 2, 3, 12, 33])
def test_asking_for_more_certainty_never_lowers_the_loss(case: Case, mdvar: int) -> None:
    for name in ("time_pct", "location_pct", "situation_pct"):
        losses_db = []
        for percent in (1.0, 10.0, 30.0, 50.0, 70.0, 90.0, 99.0):
            model = ItmModel(
                climate=case.model.climate,
                surface_refractivity_n_units=case.model.surface_refractivity_n_units,
                ground=case.model.ground,
                mode=VariabilityMode(mdvar % 10),
                left_out=LeftOut(mdvar - mdvar % 10),
                percentages=Percentages(**{name: percent}),
            )
            losses_db.append(
                model.loss(
                    case.profile,
                    tx_height_m=float(case.row["tx_height_m"]),
                    rx_height_m=float(case.row["rx_height_m"]),
                    frequency_mhz=float(case.row["frequency_mhz"]),
                    polarisation=case.polarisation,
                ).loss_db
            )
        assert (np.diff(losses_db) >= -1e-9).all(), name


# Worked values of single formulas, computed from them independently, to the digits given.


def test_refractivity_and_earth() -> None:
    assert surface_refractivity(301.0, 500.0) == pytest.approx(285.5040, abs=5e-5)
    assert surface_refractivity(360.0, 100.0) == pytest.approx(356.2145, abs=5e-5)
    assert effective_earth_radius_m(301.0) == pytest.approx(8492463.4, abs=0.05)
    assert effective_earth_radius_m(surface_refractivity(301.0, 500.0)) == pytest.approx(8264390.0, abs=0.05)
    assert effective_earth_radius_m(surface_refractivity(360.0, 100.0)) == pytest.approx(9652750.7, abs=0.05)


@pytest.mark.parametrize(
    ("frequency_mhz", "permittivity", "conductivity", "vertical", "expected"),
    [
        (146.0, 15.0, 0.005, True, 0.249309 - 0.004755j),
        (28.5, 15.0, 0.005, True, 0.245989 - 0.023829j),
        (446.0, 4.0, 0.001, False, 1.732090 + 0.011650j),
    ],
)
def test_ground_impedance(
    frequency_mhz: float, permittivity: float, conductivity: float, vertical: bool, expected: complex
) -> None:
    found = ground_impedance(frequency_mhz, permittivity, conductivity, vertical)
    assert found == pytest.approx(expected, abs=7e-7)


@pytest.mark.parametrize(
    ("v_squared", "loss_db"), [(0.0, 6.02), (1.0, 13.86), (5.75, 20.5625), (5.77, 20.5648), (25.0, 26.9324)]
)
def test_knife_edge(v_squared: float, loss_db: float) -> None:
    assert knife_edge_db(v_squared) == pytest.approx(loss_db, abs=5e-5)


def test_roughness() -> None:
    assert surface_deviation_m(10.0) == pytest.approx(3.2059, abs=5e-5)
    assert surface_deviation_m(100.0) == pytest.approx(16.0478, abs=5e-5)
    assert roughness_m(90.0, 20e3) == pytest.approx(41.7370, abs=5e-5)


@pytest.mark.parametrize(
    ("x", "K", "gain_db"),
    [(50.0, 0.01, -48.7505), (150.0, 1e-6, -29.9552), (300.0, 0.01, -16.8430), (2500.0, 0.01, 109.7952)],
)
def test_height_gain(x: float, K: float, gain_db: float) -> None:
    assert height_gain_db(x, K) == pytest.approx(gain_db, abs=5e-5)


@pytest.mark.parametrize(
    ("r", "eta", "gain_db"), [(1.0, 1.0, 16.9897), (2.0, 2.5, 13.5006), (0.5, 5.5, 40.6822)]
)
def test_frequency_gain(r: float, eta: float, gain_db: float) -> None:
    assert frequency_gain_db(r, eta) == pytest.approx(gain_db, abs=5e-5)


@pytest.mark.parametrize(
    ("share", "z"), [(0.01, 2.326785), (0.1, 1.281729), (0.3, 0.524002), (0.9, -1.281729)]
)
def test_deviate(share: float, z: float) -> None:
    assert deviate(share) == pytest.approx(z, abs=5e-7)


def test_climate_curves_at_100_km() -> None:
    """Curves before the frequency factor, which at 47.7/0.133 MHz is b1 + b2."""
    median, worse, better = time_spreads_db(5, 100e3, 47.7 / 0.133)
    assert median == pytest.approx(0.8591, abs=5e-5)
    assert worse / (0.92 + 0.25) == pytest.approx(4.1068, abs=5e-5)
    assert better / (0.93 + 0.31) == pytest.approx(6.4916, abs=5e-5)


@pytest.mark.parametrize(("da_m", "db_m"), [(100.0, 500.0), (150.0, 455.0)])
def test_fitted_line(da_m: float, db_m: float) -> None:
    ground_m = np.array([0.0, 10.0, 20.0, 40.0, 30.0, 20.0, 10.0])
    assert fitted_ends(ground_m, 100.0, da_m, db_m) == pytest.approx((16.25, 36.25), abs=1e-9)
