"""Every link of a small invented net: symmetry, direction, exclusion, monotony, errors."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import rasterio
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rasterio.transform import from_origin

from reach.errors import MissingTerrain, OutOfRange
from reach.links.budget import LineKind
from reach.links.ends import repeater_end, station_end
from reach.links.link_budgets import repeater_budgets, simplex_budget
from reach.links.network import SimplexNetwork
from reach.links.outcome import RepeaterOutcome, repeater_outcome
from reach.links.pattern import omni_loss_db
from reach.links.repeater_survey import survey_repeater
from reach.links.survey import survey_simplex
from reach.notes import texts
from reach.propagation.choose import model_named
from reach.propagation.itm.model import ItmModel
from reach.propagation.path_kind import KIND_SIGMA_DB
from reach.propagation.variability import normal_cdf, time_spread
from reach.stations import (
    Antenna,
    Category,
    Channel,
    Land,
    Net,
    NoiseEnvironment,
    Position,
    Repeater,
    Station,
    Surrounding,
)
from reach.terrain.sampling import sample_profile
from reach.terrain.tiles import Terrain


def changed(net: Net, call_sign: str, **changes: object) -> Net:
    """The net with some fields of one station changed."""
    return replace(
        net,
        stations=tuple(
            replace(s, **changes) if s.call_sign == call_sign else s  # type: ignore[arg-type]
            for s in net.stations
        ),
    )


@pytest.fixture
def network(club: Net, terrain: Terrain, channel: Channel) -> SimplexNetwork:
    return survey_simplex(club, terrain, channel)


def test_levels_follow_from_path_loss_and_equipment(
    network: SimplexNetwork, club: Net, terrain: Terrain
) -> None:
    a, e = club.station("QK1A"), club.station("QK1E")
    profile = sample_profile(terrain, a.position, e.position)
    alone = model_named("delta_bullington").loss(
        profile, tx_height_m=10.0, rx_height_m=10.0, frequency_mhz=146.55
    )
    link = network.link("qk1a", "QK1E")
    assert link.path_loss_db == pytest.approx(alone.loss_db, abs=1e-9)
    # 47 dBm - 1 + 5 - loss + 5 - 1; both paths climb to the ridge, 5 dBi is 34 degrees wide in elevation
    beside_db = sum(
        float(omni_loss_db(angle, gain_dbi=5.0))
        for angle in (link.elevation_deg, network.link("QK1E", "QK1A").elevation_deg)
    )
    assert 0.0 < beside_db < 0.2
    assert link.received_dbm == pytest.approx(55.0 - alone.loss_db - beside_db, abs=1e-9)
    assert not link.line_of_sight
    assert link.fresnel_clearance < -1.0  # the ridge between them
    assert network.link("QK1A", "QK1B").chance > 0.99


def test_equal_stations_hear_each_other_equally(network: SimplexNetwork) -> None:
    there, back = network.link("QK1A", "QK1E"), network.link("QK1E", "QK1A")
    assert there.margin_db == back.margin_db
    assert there.chance == back.chance
    assert (there.bearing_deg - back.bearing_deg) % 360.0 == pytest.approx(180.0, abs=1.0)
    np.testing.assert_array_equal(network.path_loss_db, network.path_loss_db.T)


def test_swapping_two_stations_swaps_their_links(
    network: SimplexNetwork, club: Net, terrain: Terrain, channel: Channel
) -> None:
    turned = survey_simplex(replace(club, stations=club.stations[::-1]), terrain, channel)
    assert turned.call_signs == network.call_signs[::-1]
    # the sampler walks the path from its other end: same points but for rounding
    np.testing.assert_allclose(turned.margin_db[::-1, ::-1], network.margin_db, atol=1e-3)


def test_directions_differ_by_power_and_receiver(network: SimplexNetwork) -> None:
    out, back = network.link("QK1A", "QK1H"), network.link("QK1H", "QK1A")
    assert out.received_dbm - back.received_dbm == pytest.approx(10.0)  # 47 against 37 dBm, all else alike
    assert out.margin_db > back.margin_db


def test_a_moving_station_costs_the_fading_allowance_once(
    network: SimplexNetwork, club: Net, terrain: Terrain, channel: Channel
) -> None:
    parked = survey_simplex(changed(club, "QK1M", category=Category.BASE), terrain, channel)
    for tx, rx in (("QK1A", "QK1M"), ("QK1M", "QK1A")):
        assert parked.link(tx, rx).margin_db - network.link(tx, rx).margin_db == pytest.approx(8.0)
    both = survey_simplex(changed(club, "QK1A", category=Category.MOBILE), terrain, channel)
    assert both.link("QK1A", "QK1M").margin_db == pytest.approx(network.link("QK1A", "QK1M").margin_db)


def test_narrow_deviation_needs_more(
    network: SimplexNetwork, club: Net, terrain: Terrain, channel: Channel
) -> None:
    narrow = survey_simplex(club, terrain, replace(channel, deviation_khz=2.5))
    assert network.link("QK1A", "QK1B").margin_db - narrow.link("QK1A", "QK1B").margin_db == pytest.approx(
        0.917, abs=0.001
    )


def test_internet_members_and_oneself_have_no_link(network: SimplexNetwork) -> None:
    n = network.index("QK1N")
    for values in (network.margin_db, network.received_dbm, network.path_loss_db, network.sigma_db):
        assert np.isnan(values[n]).all()
        assert np.isnan(values[:, n]).all()
        assert np.isnan(np.diag(values)).all()
    assert not network.chance[n].any()
    assert not network.chance[:, n].any()
    assert not np.diag(network.chance).any()
    assert network.link("QK1N", "QK1A").grade.word == "none"
    with pytest.raises(KeyError, match="no radio path"):
        simplex_budget(network, tx="QK1N", rx="QK1A")
    with pytest.raises(KeyError):
        network.link("QK9Z", "QK1A")


def test_the_parts_of_sigma_add_up(network: SimplexNetwork) -> None:
    assert network.path_sigma_db is not None
    assert network.station_sigma_db is not None
    assert network.receive_sigma_db is not None
    assert network.time_sigma_db is not None
    site = network.station_sigma_db
    total = np.sqrt(
        network.path_sigma_db**2
        + site[:, None] ** 2
        + site[None, :] ** 2
        + network.receive_sigma_db[None, :] ** 2
        + network.time_sigma_db**2
    )
    np.testing.assert_allclose(total, network.sigma_db, rtol=1e-12)
    np.testing.assert_array_equal(network.path_sigma_db, network.path_sigma_db.T)


def test_chance_is_what_drawing_the_parts_gives(network: SimplexNetwork) -> None:
    """Draw each part with its own sharing: the share of workable draws is the chance of every link."""
    assert network.path_sigma_db is not None
    assert network.station_sigma_db is not None
    assert network.receive_sigma_db is not None
    assert network.time_sigma_db is not None
    n, draws = len(network.call_signs), 20_000
    rng = np.random.default_rng(20260101)

    def pairwise() -> np.ndarray:
        z = rng.standard_normal((draws, n, n))
        upper = np.triu(z, 1)
        return upper + upper.transpose(0, 2, 1)  # one draw a path, both directions

    site = rng.standard_normal((draws, n)) * network.station_sigma_db
    margin = (
        network.margin_db
        + pairwise() * network.path_sigma_db
        + pairwise() * network.time_sigma_db
        + site[:, :, None]
        + site[:, None, :]
        + (rng.standard_normal((draws, n)) * network.receive_sigma_db)[:, None, :]
    )
    works = (margin >= 0.0).mean(axis=0)
    on_air = ~np.isnan(network.margin_db)
    # 4 standard errors of a share of 20,000 draws at p = 1/2: 0.014
    np.testing.assert_allclose(works[on_air], network.chance[on_air], atol=0.014)


def test_the_losses_behind_a_chance_are_medians(club: Net) -> None:
    """Else a spread would count twice: once within the loss, once around it."""
    from reach.links.survey import net_model
    from reach.propagation.typical_land.model import Cover, TypicalLandModel

    for frequency_mhz in (28.5, 146.0):
        standard = net_model(replace(club, model="auto"), frequency_mhz)
        assert isinstance(standard, TypicalLandModel)
        assert standard.cover is Cover.USUAL
        assert (standard.settings.time_percent, standard.settings.location_percent) == (50.0, 50.0)
        assert standard.settings.building is standard.settings.entry is None


def test_a_repeaters_links_spread_by_the_same_parts(club: Net, terrain: Terrain) -> None:
    """Path by its kind, two sites, the evening with its floor, the noise where it is heard: by hand."""
    stated = replace(
        club,
        stations=tuple(replace(s, land=Land.HOUSES) for s in club.stations),
        repeaters=(replace(club.repeaters[0], land=Land.OPEN),),
    )
    repeater = stated.repeaters[0]
    found = survey_repeater(stated, terrain, repeater)
    model = ItmModel()
    for call_sign, site_db in (("QK1A", 3.5), ("QK1M", 4.5), ("QK1H", 6.0)):
        member, own = found.member(call_sign), stated.station(call_sign)
        profile = sample_profile(terrain, own.position, repeater.position)
        for link, listens in ((member.talk_in, repeater), (member.talk_out, own)):
            end = (
                repeater_end(listens, frequency_mhz=link.frequency_mhz, net_noise=club.noise)
                if isinstance(listens, Repeater)
                else station_end(listens, frequency_mhz=link.frequency_mhz, net_noise=club.noise)
            )
            itm = model.details(
                profile,
                tx_height_m=own.antenna.height_m,
                rx_height_m=repeater.antenna.height_m,
                frequency_mhz=link.frequency_mhz,
            )
            assert itm.rx_effective_height_m > 300.0  # the repeater stands on a ridge of 400 m
            spread = time_spread(
                distance_m=link.distance_m,
                frequency_mhz=link.frequency_mhz,
                tx_effective_height_m=itm.tx_effective_height_m,
                rx_effective_height_m=itm.rx_effective_height_m,
            )
            evening_db = np.hypot(spread.sigma_db(link.margin_db), 1.5 if link.line_of_sight else 2.0)
            assert link.kind is not None
            parts = (KIND_SIGMA_DB[link.kind], site_db, 3.5, float(evening_db), end.noise_sigma_db)
            budget = repeater_budgets(found, call_sign)[0 if link is member.talk_in else 1]
            assert budget.spread is not None and budget.spread is link.spread
            assert float(budget.spread.total_db) == pytest.approx(link.sigma_db, rel=1e-12)
            sites_db = (budget.spread.tx_station_db, budget.spread.rx_station_db)
            assert sites_db == ((site_db, 3.5) if link is member.talk_in else (3.5, site_db))
            assert link.sigma_db == pytest.approx(np.sqrt(np.square(parts).sum()), rel=1e-9)
            assert link.chance == pytest.approx(float(normal_cdf(link.margin_db / link.sigma_db)), abs=1e-12)


def test_what_nobody_said_makes_a_low_station_less_sure(
    club: Net, terrain: Terrain, channel: Channel
) -> None:
    """3 dB for an antenna that may stand below trees, none for a mast above them or where a raster tells."""
    stated = replace(club, stations=tuple(replace(s, land=Land.HOUSES) for s in club.stations))
    tall = changed(club, "QK1A", antenna=Antenna(height_m=15.0, gain_dbi=5.0))
    unsaid, said = survey_simplex(tall, terrain, channel), survey_simplex(stated, terrain, channel)
    assert unsaid.station_sigma_db is not None and said.station_sigma_db is not None
    np.testing.assert_allclose(said.station_sigma_db[:4], [3.5, 3.5, 6.0, 4.5])
    np.testing.assert_allclose(unsaid.station_sigma_db[:4], np.hypot([3.5, 3.5, 6.0, 4.5], [0, 3, 3, 3]))


def test_a_pair_works_both_ways_a_little_less_often_than_its_weaker_direction(
    network: SimplexNetwork,
) -> None:
    """Against the parts drawn a hundred thousand times; never above the weaker direction's chance."""
    both = network.chance_both_ways
    weaker = np.minimum(network.chance, network.chance.T)
    assert (both <= weaker + 1e-12).all() and (both == both.T).all()
    rng = np.random.default_rng(6)
    n, draws = len(network.call_signs), 100_000
    worst = 0.0
    for i, j in [(0, 1), (0, 4), (2, 3), (1, 2)]:
        link, back = network.link(network.call_signs[i], network.call_signs[j]), None
        back = network.link(network.call_signs[j], network.call_signs[i])
        assert link.spread is not None and back.spread is not None
        z = rng.standard_normal((6, draws))
        shared = (
            z[0] * link.spread.path_db + z[1] * link.spread.tx_station_db + z[2] * link.spread.rx_station_db
        )
        there = link.margin_db + shared + z[3] * link.spread.time_db + z[4] * link.spread.rx_noise_db
        here = back.margin_db + shared + z[3] * back.spread.time_db + z[5] * back.spread.rx_noise_db
        # 4 standard errors of a share of 100,000 draws at p = 1/2: 0.0063
        assert both[i, j] == pytest.approx(np.mean((there >= 0.0) & (here >= 0.0)), abs=0.0065)
        worst = max(worst, weaker[i, j] - both[i, j])
    assert n == len(both) and worst > 0.003


def test_the_budget_sheet_repeats_the_matrix(network: SimplexNetwork) -> None:
    for tx in network.call_signs[:5]:
        for rx in network.call_signs[:5]:
            if tx == rx:
                continue
            budget, link = simplex_budget(network, tx=tx, rx=rx), network.link(tx, rx)
            assert budget.received_dbm == pytest.approx(link.received_dbm, abs=1e-9)
            assert budget.margin_db == pytest.approx(link.margin_db, abs=1e-9)
            assert budget.chance == pytest.approx(link.chance, abs=1e-12)
            assert budget.grade is link.grade
            assert budget.spread is not None
            assert float(budget.spread.total_db) == pytest.approx(link.sigma_db, rel=1e-12)


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(more_db=st.floats(0.0, 20.0))
def test_more_power_is_heard_by_more_and_hears_no_better(
    club: Net, terrain: Terrain, channel: Channel, more_db: float
) -> None:
    plain = survey_simplex(club, terrain, channel)
    louder = survey_simplex(changed(club, "QK1H", transmit_power_dbm=37.0 + more_db), terrain, channel)
    h = plain.index("QK1H")
    others = [k for k in range(len(plain.call_signs)) if k != h and plain.call_signs[k] != "QK1N"]
    np.testing.assert_allclose(louder.margin_db[h, others], plain.margin_db[h, others] + more_db, atol=1e-9)
    np.testing.assert_array_equal(louder.margin_db[others, h], plain.margin_db[others, h])
    assert (louder.chance[h] >= plain.chance[h] - 1e-12).all()


def test_a_noisy_house_hears_worse_and_is_heard_the_same(
    network: SimplexNetwork, club: Net, terrain: Terrain, channel: Channel
) -> None:
    noisy = survey_simplex(changed(club, "QK1A", local_noise_db=10.0), terrain, channel)
    assert noisy.link("QK1B", "QK1A").margin_db < network.link("QK1B", "QK1A").margin_db - 5.0
    assert noisy.link("QK1A", "QK1B").margin_db == network.link("QK1A", "QK1B").margin_db
    city = survey_simplex(changed(club, "QK1A", noise=NoiseEnvironment.CITY), terrain, channel)
    assert city.link("QK1B", "QK1A").margin_db < network.link("QK1B", "QK1A").margin_db
    assert "city" in simplex_budget(city, tx="QK1B", rx="QK1A").requirement_lines[1].note


def test_co_located_stations_get_free_space_and_a_warning(
    club: Net, terrain: Terrain, channel: Channel
) -> None:
    a = club.station("QK1A")
    twin = replace(a, call_sign="QK1T")
    near = replace(
        a, call_sign="QK1U", position=Position(a.position.latitude_deg + 0.0003, a.position.longitude_deg)
    )
    found = survey_simplex(replace(club, stations=(*club.stations, twin, near)), terrain, channel)
    for other in ("QK1T", "QK1U"):
        link = found.link("QK1A", other)
        assert link.grade.readability == 5
        assert 20.0 < link.path_loss_db < 60.0
        assert any(
            "QK1A" in text and other in text and "free space" in text for text in texts(found.warnings)
        )
    # free space at 33.3 m and 146.55 MHz: 32.45 + 43.32 - 29.55 = 46.2 dB
    assert found.link("QK1A", "QK1U").path_loss_db == pytest.approx(46.2, abs=0.1)
    assert np.isfinite(found.margin_db[found.index("QK1T"), found.index("QK1E")])


def test_a_path_that_leaves_the_tiles_is_named(club: Net, terrain: Terrain, channel: Channel) -> None:
    away = changed(club, "QK1E", position=Position(41.25, -37.5))
    with pytest.raises(MissingTerrain, match=r"QK1A.*QK1E"):
        survey_simplex(away, terrain, channel)
    with pytest.raises(MissingTerrain, match=r"QK1E.*QK0R"):
        survey_repeater(away, terrain, away.repeaters[0])


def test_a_model_that_does_not_reach_the_band_is_named(club: Net, terrain: Terrain) -> None:
    with pytest.raises(OutOfRange, match=r"p1812.*typical_land"):
        survey_simplex(replace(club, model="p1812"), terrain, Channel("ten", 28.5))


def test_what_a_model_refuses_names_the_stations(club: Net, terrain: Terrain, channel: Channel) -> None:
    tall = changed(club, "QK1E", antenna=Antenna(height_m=40_000.0, gain_dbi=5.0))
    with pytest.raises(OutOfRange, match=r"QK1A to QK1E"):
        survey_simplex(tall, terrain, channel)


def test_a_radio_held_low_is_worked_at_the_models_lowest_and_texts(
    club: Net, terrain: Terrain, channel: Channel
) -> None:
    """P.1812 starts at 1 m: a handheld on a knee at 0.5 m must not cost the net its answer."""
    standard = replace(club, model="p1812")
    low = survey_simplex(changed(standard, "QK1H", antenna=Antenna(0.5, -5.0)), terrain, channel)
    lowest = survey_simplex(changed(standard, "QK1H", antenna=Antenna(1.0, -5.0)), terrain, channel)
    np.testing.assert_array_equal(low.path_loss_db, lowest.path_loss_db)
    said = [text for text in texts(low.warnings) if text not in texts(lowest.warnings)]
    assert said == [
        "QK1H: antenna at 0.5 m is below the 1 m where p1812 starts; worked at 1 m, "
        "so the real signal is weaker."
    ]
    with pytest.raises(OutOfRange, match=r"height above ground is -2 m; p1812 is valid from 1 to 3000 m"):
        survey_simplex(changed(standard, "QK1H", antenna=Antenna(-2.0, -5.0)), terrain, channel)


def test_ten_metres_says_skywave_is_left_out(club: Net, terrain: Terrain) -> None:
    found = survey_simplex(club, terrain, Channel("ten", 29.6))
    assert sum("skywave" in text for text in texts(found.warnings)) == 1
    assert not any("extrapolated" in text for text in texts(found.warnings))


def test_noise_extrapolation_and_coarse_locators_are_said(club: Net, terrain: Terrain) -> None:
    coarse = changed(club, "QK1B", position=Position(41.3, -38.4, uncertainty_m=5000.0))
    found = survey_simplex(coarse, terrain, Channel("seventy", 446.0))
    assert any("extrapolated (residential)" in text for text in texts(found.warnings))
    assert any("QK1B" in text and "locator" in text for text in texts(found.warnings))


def test_progress_ends_at_all_paths(club: Net, terrain: Terrain, channel: Channel) -> None:
    seen: list[tuple[int, int]] = []
    survey_simplex(club, terrain, channel, progress=lambda done, total: seen.append((done, total)))
    assert seen[-1] == (10, 10)  # 5 stations on the air
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)


@pytest.mark.parametrize("on_air", [0, 1])
def test_nets_with_nobody_to_talk_to(club: Net, terrain: Terrain, channel: Channel, on_air: int) -> None:
    stations = tuple(s for s in club.stations if s.call_sign in {"QK1N", *["QK1A"][:on_air]})
    found = survey_simplex(replace(club, stations=stations), terrain, channel)
    assert not found.chance.any()
    assert found.chance.shape == (len(stations), len(stations))
    assert len(survey_repeater(found.net, terrain, club.repeaters[0]).members) == on_air


def test_repeater_uses_each_frequency_and_the_duplexer(club: Net, terrain: Terrain) -> None:
    found = survey_repeater(club, terrain, club.repeaters[0])
    assert [m.call_sign for m in found.members] == ["QK1A", "QK1B", "QK1H", "QK1M", "QK1E"]
    assert found.no_radio == ("QK1N",)
    h = found.member("QK1H")
    assert (h.talk_in.frequency_mhz, h.talk_out.frequency_mhz) == (146.34, 146.94)
    # 37 dBm - 1 - 5 - loss + 8 - 1.5, and 47 - 1.5 + 8 - loss - 5 - 1
    # the mast looks down on it: 8 dBi is 17 degrees wide in elevation
    beside_db = float(omni_loss_db(h.talk_out.elevation_deg, gain_dbi=8.0))
    assert 0.0 < beside_db < 0.3 and h.talk_out.elevation_deg < 0.0
    assert h.talk_in.received_dbm + h.talk_in.path_loss_db == pytest.approx(37.5 - beside_db)
    assert h.talk_out.received_dbm + h.talk_out.path_loss_db == pytest.approx(47.5 - beside_db)
    assert h.talk_in.path_loss_db != h.talk_out.path_loss_db
    assert h.talk_in.path_loss_db == pytest.approx(h.talk_out.path_loss_db, abs=0.2)
    for member in found.members:
        talk_in, talk_out = repeater_budgets(found, member.call_sign)
        assert talk_in.margin_db == pytest.approx(member.talk_in.margin_db, abs=1e-9)
        assert talk_out.margin_db == pytest.approx(member.talk_out.margin_db, abs=1e-9)
        assert talk_in.chance == pytest.approx(member.talk_in.chance, abs=1e-12)
        assert any(line.label == "transmit duplexer" for line in talk_out.signal_lines)
        assert any(line.label == "receive duplexer" for line in talk_in.signal_lines)


def test_a_handheld_that_hears_the_repeater_and_does_not_get_in(club: Net, terrain: Terrain) -> None:
    # so weak that its side fails and the repeater's 10 dB and more carry
    weak = changed(club, "QK1H", extra_loss_db=50.0)
    member = survey_repeater(weak, terrain, club.repeaters[0]).member("QK1H")
    assert member.talk_out.margin_db > 0.0 > member.talk_in.margin_db
    assert repeater_outcome(member) is RepeaterOutcome.HEARS_ONLY


def test_the_same_net_gives_the_same_bits(club: Net, country: Path, channel: Channel) -> None:
    results = []
    for _ in range(2):
        with Terrain.open([country], elevation_unit="m") as terrain:
            results.append(survey_simplex(club, terrain, channel))
    np.testing.assert_array_equal(results[0].margin_db, results[1].margin_db)


def test_a_station_is_worth_the_same_in_any_company(
    network: SimplexNetwork, club: Net, terrain: Terrain, channel: Channel
) -> None:
    two: tuple[Station, ...] = (club.station("QK1A"), club.station("QK1E"))
    alone = survey_simplex(replace(club, stations=two), terrain, channel)
    assert alone.link("QK1A", "QK1E") == network.link("QK1A", "QK1E")


def test_warnings_of_many_paths_are_said_once_with_their_number(
    club: Net, terrain: Terrain, channel: Channel
) -> None:
    a = club.station("QK1A")
    twins = tuple(replace(a, call_sign=f"QK2{letter}") for letter in "ABC")
    found = survey_simplex(replace(club, stations=(*club.stations, *twins)), terrain, channel)
    (text,) = (text for text in texts(found.warnings) if "free space" in text)
    assert text.startswith("QK1A to QK2A, QK1A to QK2B, QK1A to QK2C and 3 more: 0 m apart, too close for ")


def test_voids_filled_on_a_path_are_reported(
    club: Net, country: Path, channel: Channel, tmp_path: Path
) -> None:
    with rasterio.open(country / "country.tif") as source:
        ground = np.kron(source.read(1), np.ones((3, 3), dtype=np.float32))  # 1 arc-second
        fine = from_origin(-38.5, 41.5, 1.0 / 3600.0, 1.0 / 3600.0)
        profile = {**source.profile, "width": 1800, "height": 1800, "transform": fine, "nodata": -32768.0}
    # a void one pixel wide all along 41.28 N, which the path from QK1A to QK1B crosses
    ground[round((41.5 - 41.28) * 3600), 150:360] = -32768.0
    with rasterio.open(tmp_path / "holed.tif", "w", **profile) as tile:
        tile.write(ground, 1)
        tile.units = ("m",)
    with Terrain.open([tmp_path], elevation_unit="m") as holed:
        found = survey_simplex(club, holed, channel)
    (text,) = (text for text in texts(found.warnings) if "missing elevation" in text)
    assert text.startswith("QK1A to QK1B")
    # one pixel of 31 m touches two intervals of bilinear sampling, crossed at 37 degrees: about 77 m
    assert 30 <= int(re.search(r": up to (\d+) m of missing", text)[1]) <= 140  # type: ignore[index]


def test_land_cover_adds_clutter_to_the_path(
    club: Net, terrain: Terrain, channel: Channel, country: Path, tmp_path: Path
) -> None:
    with rasterio.open(country / "country.tif") as source:
        profile = {**source.profile, "dtype": "uint8"}
    cover = tmp_path / "cover.tif"
    with rasterio.open(cover, "w", **profile) as tile:
        tile.write(np.full((profile["height"], profile["width"]), 10, dtype=np.uint8), 1)  # tree cover
    bare = survey_simplex(club, terrain, channel)
    wooded = survey_simplex(replace(club, land_cover=str(cover)), terrain, channel)
    felled = survey_simplex(
        replace(club, land_cover=str(cover), clutter_heights_m=(("10", 0.0),)), terrain, channel
    )
    assert wooded.link("QK1A", "QK1H").path_loss_db > bare.link("QK1A", "QK1H").path_loss_db + 1.0
    np.testing.assert_allclose(felled.path_loss_db, bare.path_loss_db, atol=1e-9)


def test_doubts_about_land_cover_are_said_once_with_whom_they_touch(
    club: Net, terrain: Terrain, channel: Channel, country: Path, tmp_path: Path
) -> None:
    """Forest of 15 m everywhere but round QK1E: masts of 10 m stand below it, one of 16 m does not."""
    with rasterio.open(country / "country.tif") as source:
        profile = {**source.profile, "dtype": "uint8"}
        row, column = source.index(-38.08, 41.24)  # QK1E
    codes = np.full((profile["height"], profile["width"]), 10, dtype=np.uint8)
    codes[row - 2 : row + 3, column - 2 : column + 3] = 30
    with rasterio.open(tmp_path / "cover.tif", "w", **profile) as tile:
        tile.write(codes, 1)
    covered = replace(club, model="p1812", land_cover=str(tmp_path / "cover.tif"))
    covered = changed(covered, "QK1B", antenna=Antenna(height_m=16.0, gain_dbi=5.0))
    covered = changed(covered, "QK1H", surroundings=(Surrounding.WOODLAND,))
    covered = changed(covered, "QK1E", surroundings=(Surrounding.WOODLAND,))
    found = survey_simplex(covered, terrain, channel)
    said = [text for text in texts(found.warnings) if "land cover" in text]
    assert [text.split(":")[0] for text in said] == ["QK1A, QK1H, QK1M", "QK1H"]
    assert "antenna lower than the trees or houses" in said[0]
    assert "counted twice" in said[1]
    blind = survey_simplex(replace(covered, model="itm"), terrain, channel)
    assert [text for text in texts(blind.warnings) if "land_cover" in text or "land cover" in text] == [
        "itm is worked over bare ground: land_cover changes nothing in these losses; "
        "leave the model to auto and the surface to typical to have it count."
    ]
    bare = survey_simplex(replace(covered, model="itm", land_cover=None), terrain, channel)
    np.testing.assert_array_equal(blind.path_loss_db, bare.path_loss_db)


def test_a_lower_k_factor_bends_the_earth_into_the_path(
    club: Net, terrain: Terrain, channel: Channel
) -> None:
    usual = survey_simplex(club, terrain, channel).link("QK1B", "QK1E")
    bent = survey_simplex(replace(club, k_factor=0.8), terrain, channel).link("QK1B", "QK1E")
    assert bent.path_loss_db > usual.path_loss_db
    assert bent.fresnel_clearance < usual.fresnel_clearance


@pytest.mark.parametrize("frequency_mhz", [146.55, 446.0, 29.6])
def test_auto_names_the_model_it_took(club: Net, terrain: Terrain, frequency_mhz: float) -> None:
    model = "typical_land"
    auto = replace(club, model="auto")
    found = survey_simplex(auto, terrain, Channel("any", frequency_mhz))
    assert found.model == model
    lines = {line.kind: line for line in simplex_budget(found, tx="QK1H", rx="QK1E").signal_lines}
    assert lines[LineKind.PATH].note.startswith(f"{model}, ")
    assert -18.0 < lines[LineKind.TX_LAND].value_db < -5.0  # a handheld among houses
    assert LineKind.RX_LAND not in lines  # a mast as high as they are
    assert any("extrapolated" in text for text in texts(found.warnings)) == (frequency_mhz != 146.55)
    named = survey_simplex(replace(club, model=model), terrain, Channel("any", frequency_mhz))
    np.testing.assert_array_equal(found.margin_db, named.margin_db)
    np.testing.assert_array_equal(found.path_loss_db, found.path_loss_db.T)


def test_a_member_at_the_repeater_site(club: Net, terrain: Terrain) -> None:
    site = changed(club, "QK1E", position=club.repeaters[0].position)
    found = survey_repeater(site, terrain, club.repeaters[0])
    member = found.member("QK1E")
    assert member.gets_in and member.hears
    assert member.talk_in.distance_m == 0.0
    assert any(text.startswith("QK1E to QK0R") and "free space" in text for text in texts(found.warnings))


def test_a_narrow_repeater_asks_for_more_signal(club: Net, terrain: Terrain) -> None:
    """TIA TSB-88 (from memory): C/N for 12 dB SINAD 4 dB in 12.6 kHz, 7 dB in 7.8 kHz; 3 - 2.08 = 0.92 dB."""
    usual = survey_repeater(club, terrain, club.repeaters[0])
    narrow_hub = replace(club.repeaters[0], deviation_khz=2.5)
    narrow = survey_repeater(replace(club, repeaters=(narrow_hub,)), terrain, narrow_hub)
    for wide, less in zip(usual.members, narrow.members):
        base = wide.call_sign not in ("QK1H", "QK1M")  # a moving end needs its larger fading allowance too
        for one, other in ((wide.talk_in, less.talk_in), (wide.talk_out, less.talk_out)):
            assert one.path_loss_db == other.path_loss_db
            cost_db = one.margin_db - other.margin_db
            assert cost_db == pytest.approx(0.92, abs=0.01) if base else cost_db > 0.9
    talk_in, talk_out = repeater_budgets(narrow, "QK1A")
    assert talk_in.margin_db == pytest.approx(narrow.member("QK1A").talk_in.margin_db)
    assert talk_out.margin_db == pytest.approx(narrow.member("QK1A").talk_out.margin_db)


def test_a_member_without_the_band_has_no_link_there_and_it_is_said(
    club: Net, terrain: Terrain, channel: Channel
) -> None:
    uhf_only = changed(club, "QK1B", bands=("70 cm",))
    everyone, without = survey_simplex(club, terrain, channel), survey_simplex(uhf_only, terrain, channel)
    b = without.index("QK1B")
    assert np.isnan(without.margin_db[b]).all() and np.isnan(without.margin_db[:, b]).all()
    assert not without.chance[b].any() and not without.chance[:, b].any()
    others = [i for i in range(len(without.call_signs)) if i != b]
    pick = np.ix_(others, others)
    np.testing.assert_array_equal(without.margin_db[pick], everyone.margin_db[pick])
    assert "No radio for 2 m, so no link there: QK1B." in texts(without.warnings)
    found = survey_repeater(uhf_only, terrain, club.repeaters[0])
    assert "No radio for 2 m, so no link there: QK1B." in texts(found.warnings)
    lacking = found.member("QK1B")
    assert not lacking.gets_in and not lacking.hears and lacking.chance == 0.0
    assert found.member("QK1A") == survey_repeater(club, terrain, club.repeaters[0]).member("QK1A")
    both = survey_simplex(changed(club, "QK1B", bands=("2 m", "70 cm")), terrain, channel)
    np.testing.assert_array_equal(both.margin_db, everyone.margin_db)


def test_desensitising_counts_where_the_repeater_listens_alone(club: Net, terrain: Terrain) -> None:
    quiet = survey_repeater(club, terrain, club.repeaters[0])
    deafened = replace(club.repeaters[0], desensitising_db=2.5)
    found = survey_repeater(replace(club, repeaters=(deafened,)), terrain, deafened)
    for before, after in zip(quiet.members, found.members):
        assert before.talk_in.margin_db - after.talk_in.margin_db == pytest.approx(2.5)
        assert after.talk_out == before.talk_out
        budget, _ = repeater_budgets(found, after.call_sign)
        assert budget.margin_db == pytest.approx(after.talk_in.margin_db, abs=1e-9)
        assert any(line.label == "own transmitter on the air" for line in budget.requirement_lines)
