"""ITU-R Study Group 3 validation examples of Rec. ITU-R P.1812: every case, every intermediate value.

The set is the one published with the reference implementation of the Recommendation, kept in
reach/selfcheck/cases; the README there says where it comes from. Stated values
carry ten digits, so agreement can be tested to 1e-6; measured: losses within 1e-7 dB.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from reach.propagation.p1812.model import P1812Model, field_strength_1kw_dbuvm
from reach.propagation.p1812.path import P1812Path
from reach.selfcheck.cases import p1812_model, p1812_profile, rows
from reach.stations import Polarisation
from reach.terrain.profile import Profile

LOSS_TOLERANCE_DB = 1e-6
OTHER_TOLERANCE = 1e-6  # of angles, heights, distances and shares, relative above 1


def case(row: dict[str, str]) -> tuple[Profile, P1812Model, dict[str, object]]:
    link = {
        "tx_height_m": float(row["htg_m"]),
        "rx_height_m": float(row["hrg_m"]),
        "frequency_mhz": float(row["f_ghz"]) * 1e3,
        "polarisation": Polarisation.HORIZONTAL if row["pol"] == "H" else Polarisation.VERTICAL,
    }
    return p1812_profile(row), p1812_model(row), link


def by_column(path: P1812Path) -> dict[str, float]:
    """The reference's column names."""
    zones, horizon, surface = path.zones, path.horizons, path.surfaces
    sight, bent, both = path.sight, path.diffraction, path.combination
    return {
        "dlt_km": horizon.tx_horizon_km,
        "dlr_km": horizon.rx_horizon_km,
        "theta_t_mrad": horizon.tx_angle_mrad,
        "theta_r_mrad": horizon.rx_angle_mrad,
        "theta_mrad": horizon.path_angle_mrad,
        "omega": zones.sea_share,
        "dtm_km": zones.longest_land_km,
        "dlm_km": zones.longest_inland_km,
        "beta0_pct": path.beta0_percent,
        "hst_87_m": surface.hst_m,
        "hsr_88_m": surface.hsr_m,
        "hst_92a_m": surface.ducting_hst_m,
        "hsr_92b_m": surface.ducting_hsr_m,
        "hstd_m": surface.hstd_m,
        "hsrd_m": surface.hsrd_m,
        "hte_m": surface.hte_m,
        "hre_m": surface.hre_m,
        "hm_m": surface.hm_m,
        "Fi": bent.interpolation,
        "Fj": both.fj,
        "Fk": both.fk,
        "Lbfs_db": sight.free_space_db,
        "Lb0p_db": sight.time_db,
        "Lb0b_db": sight.beta0_db,
        "Lbulla_50_db": bent.median.bullington_db,
        "Lbulls_50_db": bent.median.smooth_bullington_db,
        "Ldsph_50_db": bent.median.smooth_earth_db,
        "Ld50_db": bent.median.loss_db,
        "Lbulla_b0_db": bent.beta0.bullington_db,
        "Lbulls_b0_db": bent.beta0.smooth_bullington_db,
        "Ldsph_b0_db": bent.beta0.smooth_earth_db,
        "Ldb_db": bent.beta0.loss_db,
        "Ldp_db": bent.time_db,
        "Lbd50_db": both.lbd50_db,
        "Lbd_db": both.lbd_db,
        "Lminb0p_db": both.lminb0p_db,
        "Lba_db": path.ducting_db,
        "Lminbap_db": both.lminbap_db,
        "Lbda_db": both.lbda_db,
        "Lbam_db": both.lbam_db,
        "Lbs_db": path.troposcatter_db,
        "Lbc_db": both.lbc_db,
        "Lb_db": path.loss_db,
        "Lb_stated_db": path.loss_db,
    }


@pytest.mark.parametrize("row", rows("p1812"), ids=lambda row: row["case_id"])
def test_every_stated_value(row: dict[str, str]) -> None:
    profile, model, link = case(row)
    found = model.details(profile, **link)  # type: ignore[arg-type]
    wrong = []
    for name, value in by_column(found).items():
        stated = float(row[name])
        tolerance = LOSS_TOLERANCE_DB if name.endswith("_db") else OTHER_TOLERANCE * max(1.0, abs(stated))
        if not abs(value - stated) <= tolerance:
            wrong.append(f"{name}: {value} instead of {stated}")
    assert not wrong, "\n".join(wrong)
    assert found.horizons.transhorizon == (row["path_type"] == "transhorizon")
    assert model.settings.radius_km == pytest.approx(float(row["ae_km"]), rel=1e-9)
    frequency_mhz = float(row["f_ghz"]) * 1e3
    field = float(field_strength_1kw_dbuvm(loss_db=found.loss_db, frequency_mhz=frequency_mhz))
    assert field == pytest.approx(float(row["Ep_1kw_dbuvm"]), abs=LOSS_TOLERANCE_DB)
    power_db = 10.0 * np.log10(float(row["Ptx_kw"]))
    assert field + power_db == pytest.approx(
        float(row["E_stated_dbuvm"] or row["Ep_ptx_dbuvm"]), abs=LOSS_TOLERANCE_DB
    )


@pytest.mark.parametrize("row", rows("p1812"), ids=lambda row: row["case_id"])
def test_the_compiled_batch_gives_the_stated_loss(row: dict[str, str]) -> None:
    profile, model, link = case(row)
    assert model.loss(profile, **link).loss_db == pytest.approx(  # type: ignore[arg-type]
        float(row["Lb_stated_db"]), abs=LOSS_TOLERANCE_DB
    )


@pytest.mark.parametrize("row", rows("p1812"), ids=lambda row: row["case_id"])
def test_the_loss_is_the_same_from_the_other_end(row: dict[str, str]) -> None:
    """Exactly symmetric formulas and tie rules: rounding only. The coasts change ends with the terminals."""
    profile, model, link = case(row)
    chosen = replace(
        model.settings, tx_coast_km=model.settings.rx_coast_km, rx_coast_km=model.settings.tx_coast_km
    )
    back = {**link, "tx_height_m": link["rx_height_m"], "rx_height_m": link["tx_height_m"]}
    there_db = model.loss(profile, **link).loss_db  # type: ignore[arg-type]
    back_db = P1812Model(chosen).loss(profile.reversed(), **back).loss_db  # type: ignore[arg-type]
    if (profile.zone[0] == 1) != (profile.zone[-1] == 1) and chosen.location_percent != 50.0:
        pytest.skip("only the receiver's end at sea decides on the spread over places")
    assert back_db == pytest.approx(there_db, abs=1e-9)
