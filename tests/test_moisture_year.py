"""A bowl's moisture through a year: common sense about houses, and the rocking of its base."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize

from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.inputs import Bowl
from fitsim.bowlfile.defaults import make_bowl
from fitsim.climate.diffusion import diffusion_of, slot_air_mm2_per_h
from fitsim.climate.indoor_air import indoor_air, moisture_in_air_percent
from fitsim.climate.moisture_lag import step_share
from fitsim.climate.weather import monthly_weather
from fitsim.seasons.moisture_year import MoistureYear, bowl_lags, moisture_year

# Invented monthly means, January first: a town with cold winters inland, and a mild humid coast.
COLD = {
    "temperature_C": [-10, -8, -2, 6, 13, 19, 22, 20, 15, 8, 0, -7],
    "humidity_percent": [78, 76, 72, 66, 65, 68, 70, 73, 75, 74, 79, 81],
}
COAST = {
    "temperature_C": [8, 7.5, 8.5, 10, 12, 14, 15.5, 15.5, 14.5, 12.5, 10, 8.5],
    "humidity_percent": [85, 83, 81, 79, 79, 81, 82, 82, 83, 84, 85, 86],
}


def room(means: dict[str, list[float]], heated_to_C: float = 20.0) -> np.ndarray:
    """Moisture of wood in the air of a heated house there."""
    return moisture_in_air_percent(indoor_air(monthly_weather(**means), heated_to_C=heated_to_C))


@pytest.fixture(scope="module")
def bowl() -> Bowl:
    """An invented cherry bowl, bare."""
    board = {"wood": "cherry", "thickness": "18.3 mm", "across": "243 mm", "moisture": "8 %"}
    cut = {"tilt": "5.2 deg", "kerf": "0.72 mm", "pitch": "7.7 mm", "base": "93 mm"}
    return make_bowl({"board": board, "cut": cut, "use": {"finish": "none"}})


@pytest.fixture(scope="module")
def cold(bowl: Bowl) -> MoistureYear:
    """The bowl, open, in a heated house with cold winters."""
    return moisture_year(bowl, room(COLD))


def test_a_cold_winter_dries_the_rim(cold: MoistureYear) -> None:
    """The driest week lies in winter and the rim swings by at least 3 points."""
    assert cold.start_h[cold.driest_week] / 24 < 80
    assert np.ptp(cold.rim_percent) >= 3
    assert np.ptp(cold.base_percent) < np.ptp(cold.rim_percent)
    assert cold.driest_week == cold.rim_percent.argmin()
    assert cold.wettest_week == cold.rim_percent.argmax()
    assert 150 < cold.start_h[cold.wettest_week] / 24 < 260


def test_a_mild_coast_swings_less_than_half(bowl: Bowl, cold: MoistureYear) -> None:
    """On a mild humid coast the rim's yearly swing is less than half of the cold town's."""
    coast = moisture_year(bowl, room(COAST, heated_to_C=18.0))
    assert np.ptp(coast.rim_percent) < np.ptp(cold.rim_percent) / 2


def test_the_base_lags_behind_the_rim(cold: MoistureYear) -> None:
    """In spring, getting damper, the base is drier than the rim; in autumn it is the damper one."""
    difference = cold.rim_percent - cold.base_percent
    assert difference[16:22].mean() > 0.05
    assert difference[40:46].mean() < -0.05


def test_in_air_that_never_changes_every_part_settles_there(bowl: Bowl) -> None:
    """Base and turns come to the air's own moisture and stay: nothing is apart."""
    still = moisture_year(bowl, np.full(8760, 10.5))
    np.testing.assert_allclose(still.moisture_percent, 10.5, atol=1e-9)
    np.testing.assert_allclose(still.daily_percent, 10.5, atol=1e-9)


def test_rocking_follows_the_base_s_change(bowl: Bowl, cold: MoistureYear) -> None:
    """Rocking is twice the difference of C_T and C_R times the change, times base and rim over the pith."""
    off = np.abs(cold.base_percent - 8)
    # Cherry C_T - C_R = 0.00248 - 0.00126 (Wood Handbook, Table 13-5), pith at 150 mm; base and rim
    # stand 46 and 110 mm or so from the middle. The formula's next order is (46/150)^2.
    np.testing.assert_allclose(cold.base_rock_mm, 2 * 0.00122 * off / 150 * 46 * 113, rtol=0.12, atol=0.01)
    quarter = replace(bowl, board=replace(bowl.board, ring_angle_rad=np.pi / 2))
    assert moisture_year(quarter, room(COLD)).base_rock_mm.max() < 0.2 * cold.base_rock_mm.max()


def test_finish_and_flat_storage_slow_the_parts(bowl: Bowl) -> None:
    """Varnish delays every part, and so does lying flat; one lag for the base and for each turn."""
    bare = bowl_lags(bowl, moisture_percent=8.0)
    varnished = bowl_lags(replace(bowl, use=replace(bowl.use, finish="varnish")), moisture_percent=8.0)
    flat = bowl_lags(bowl, moisture_percent=8.0, kept="flat")
    assert len(bare) == 1 + len(rigid_fit(bowl).seats.share)
    for slower in (varnished, flat):
        for a, b in zip(slower, bare, strict=True):
            assert np.sum(a.share / a.rate_per_h) > np.sum(b.share / b.rate_per_h)


def slab_left(half_mm: float, D: float, surface: float, time_h: float) -> float:
    """What a slab free on both faces, or one of half the width on one, has left of a step.

    Crank, The Mathematics of Diffusion (1975), eq. 4.53 (from memory): beta tan(beta) = L.
    """
    L = half_mm * surface / D
    starts = np.arange(60) * np.pi
    beta = np.array([
        optimize.brentq(lambda b: b * np.sin(b) - L * np.cos(b), a + 1e-9, a + np.pi / 2) for a in starts
    ])  # fmt: skip
    share = 2 * L**2 / (beta**2 * (beta**2 + L**2 + L))
    return float(np.exp(-D * time_h / half_mm**2 * beta**2) @ share)


def test_where_no_turn_lies_round_it_the_outer_face_is_bare(bowl: Bowl) -> None:
    """Lying flat, the slots shut, the last revolution takes moisture from outside too, and nothing else.

    Of the turn before the last that is what the last is short of a whole one: 0.81 of it. Crank's series
    across the strip and through the thickness (Newman's product), the grain averaged over a quarter.
    """
    slot = 0.72 / np.cos(np.radians(5.2))
    covered = (
        (243 / 2 - 93 / 2) / 7.7 - 0.5 - slot / (2 * 7.7) - 9
    )  # of the tenth turn, cut at half a pitch
    assert covered == pytest.approx(0.193, abs=0.001)
    wood = diffusion_of("hardwood", moisture_percent=8.0)
    across, along, surface = wood.across_mm2_per_h, wood.along_mm2_per_h, wood.surface_mm_per_h
    strip = rigid_fit(bowl).strip
    chi = (np.arange(40) + 0.5) * np.pi / 80
    expected = []
    for turn, bare in ((4, 0.0), (8, 1 - covered), (9, 1.0)):
        there = (strip.angle_rad > 2 * np.pi * turn) & (strip.angle_rad <= 2 * np.pi * (turn + 1))
        width = float(strip.width_mm[there].mean())
        air = slot_air_mm2_per_h(slot_mm=slot, width_mm=width, specific_gravity=0.5, moisture_percent=8.0)
        up = slab_left(18.3 / 2, across + air, surface, 24.0)
        ways = along * np.cos(chi) ** 2 + across * np.sin(chi) ** 2
        out = np.mean([slab_left(width, D, surface, 24.0) for D in ways])
        expected.append(1 - up * (1 - bare + bare * out))
    lags = bowl_lags(bowl, moisture_percent=8.0, kept="flat")
    assert len(lags) == 11
    found = [float(step_share(lags[1 + turn], 24.0)) for turn in (4, 8, 9)]
    np.testing.assert_allclose(found, expected, atol=3e-3)
    assert found[0] + 0.1 < found[1] < found[2] - 0.05
    assert float(step_share(lags[8], 24.0)) == pytest.approx(found[0], abs=1e-3)


def test_a_whole_last_turn_has_no_bare_one_inside_it(bowl: Bowl) -> None:
    """Where the last turn is nearly whole the one before it lies shut in and lags as the others do."""
    slot = 0.72 / np.cos(np.radians(5.2))
    across = 93 + 2 * 7.7 * (9.999 + 0.5 + slot / (2 * 7.7))
    wide = replace(bowl, board=replace(bowl.board, across_mm=across))
    lags = bowl_lags(wide, moisture_percent=8.0, kept="flat")
    shares = [float(step_share(lag, 24.0)) for lag in lags[1:]]
    assert len(shares) == 10
    assert shares[-2] == pytest.approx(shares[3], abs=2e-3)
    assert shares[-1] > shares[-2] + 0.1


def test_the_rim_is_once_round(bowl: Bowl) -> None:
    """Moved, the rim's moisture is that of a revolution back from the free end, not of a last bit."""
    moved = moisture_year(bowl, np.full(336, 6.0), kept="flat", start_percent=12.0)
    slot = 0.72 / np.cos(np.radians(5.2))
    covered = (243 / 2 - 93 / 2) / 7.7 - 0.5 - slot / (2 * 7.7) - 9
    for rim, parts in (
        (moved.rim_percent, moved.moisture_percent), (moved.daily_rim_percent, moved.daily_percent)
    ):  # fmt: skip
        np.testing.assert_allclose(rim, covered * parts[:, 10] + (1 - covered) * parts[:, 9], rtol=1e-6)
    assert moved.daily_rim_percent[0] > moved.daily_percent[0, -1] + 0.3


def test_a_move_starts_where_the_bowl_came_from(bowl: Bowl) -> None:
    """From 12 percent into a dry room the rim is nearly there in the second week, the base not yet."""
    moved = moisture_year(bowl, np.full(1008, 6.0), start_percent=12.0)
    assert len(moved.start_h) == 6
    assert moved.rim_percent[1] < 6.5
    assert moved.base_percent[1] > moved.rim_percent[1] + 0.3
