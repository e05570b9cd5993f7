"""Lag of the parts: Crank's series, order of convergence, mass balance, published figures."""

import numpy as np
import pytest
from scipy import optimize, special

from fitsim.climate.diffusion import (
    Diffusion,
    base_lag,
    diffusion_of,
    film_mm_per_h,
    piece_share,
    slot_air_mm2_per_h,
    turn_lag,
)
from fitsim.climate.moisture_lag import Lag, block_lag, disc_lag, follow_percent, slab_lag, step_share
from fitsim.errors import OutsideModelError
from fitsim.tables import MARKS, read_table
from fitsim.wood.finishes import FINISHES

TIMES = np.array([2.0, 10.0, 50.0, 200.0])


def crank_slab(half_mm: float, D: float, surface: float, time_h: np.ndarray) -> np.ndarray:
    """Crank, The Mathematics of Diffusion (1975), eq. 4.53 (from memory): beta tan(beta) = L."""
    L = half_mm * surface / D
    n = np.arange(200) * np.pi
    beta = np.array([optimize.brentq(lambda b: b * np.sin(b) - L * np.cos(b), a + 1e-9, a + np.pi / 2)
                     for a in n])  # fmt: skip
    share = 2 * L**2 / (beta**2 * (beta**2 + L**2 + L))
    return 1 - np.exp(-np.outer(D * time_h / half_mm**2, beta**2)) @ share


def crank_disc(radius_mm: float, D: float, surface: float, time_h: np.ndarray) -> np.ndarray:
    """The same, eq. 5.47 (from memory): beta J1(beta) = L J0(beta)."""
    L = radius_mm * surface / D
    zeros = np.concatenate([[0.0], special.jn_zeros(1, 200)])
    zeros0 = special.jn_zeros(0, 200)
    beta = np.array([
        optimize.brentq(lambda b: b * special.j1(b) - L * special.j0(b), a + 1e-9, z)
        for a, z in zip(zeros[:200], zeros0, strict=True)
    ])  # fmt: skip
    share = 4 * L**2 / (beta**2 * (beta**2 + L**2))
    return 1 - np.exp(-np.outer(D * time_h / radius_mm**2, beta**2)) @ share


@pytest.mark.parametrize(("D", "surface"), [(0.36, 0.17), (0.36, 4.0), (1.9, 0.05)])
def test_slab_and_disc_follow_the_exact_series(D: float, surface: float) -> None:
    """A step on slab and disc agrees with Crank's series within 0.001 of the step.

    Two hours after a step through hardly any film the wide disc needs more cells than the 40 kept.
    """
    slab = slab_lag(thickness_mm=6.5, D_mm2_per_h=D, first_mm_per_h=surface, second_mm_per_h=surface)
    cells = 120 if surface > 1 else 40
    disc = disc_lag(radius_mm=23.0, D_mm2_per_h=D, surface_mm_per_h=surface, cells=cells)
    np.testing.assert_allclose(step_share(slab, TIMES), crank_slab(3.25, D, surface, TIMES), atol=1e-3)
    np.testing.assert_allclose(step_share(disc, TIMES), crank_disc(23.0, D, surface, TIMES), atol=1e-3)


def test_order_of_convergence_is_two() -> None:
    """Halving the cells divides the error against the exact series by four."""
    exact = crank_slab(9.5, 0.4, 0.3, np.array([60.0]))[0]
    round_exact = crank_disc(30.0, 1.5, 0.3, np.array([60.0]))[0]
    errors, round_errors = [], []
    for cells in (10, 20, 40):
        slab = slab_lag(
            thickness_mm=19, D_mm2_per_h=0.4, first_mm_per_h=0.3, second_mm_per_h=0.3, cells=cells
        )
        disc = disc_lag(radius_mm=30, D_mm2_per_h=1.5, surface_mm_per_h=0.3, cells=cells)
        errors.append(abs(float(step_share(slab, 60.0)) - exact))
        round_errors.append(abs(float(step_share(disc, 60.0)) - round_exact))
    for found in (errors, round_errors):
        orders = np.log2(np.array(found[:-1]) / found[1:])
        np.testing.assert_allclose(orders, 2, atol=0.15)


@pytest.mark.parametrize(("thickness_mm", "D_m2_s"), [(3, 5e-11), (19, 1e-10), (25, 2e-10)])
def test_half_times_of_a_slab_without_film(thickness_mm: float, D_m2_s: float) -> None:
    """Half the change at 0.0492 L^2/D, nine tenths at 0.212 L^2/D (Crank)."""
    D = D_m2_s * 1e6 * 3600
    slab = slab_lag(thickness_mm=thickness_mm, D_mm2_per_h=D, first_mm_per_h=1e6, second_mm_per_h=1e6)
    for share, number in ((0.5, 0.0492), (0.9, 0.212)):
        assert float(step_share(slab, number * thickness_mm**2 / D)) == pytest.approx(share, abs=2e-3)


def test_what_enters_is_what_is_gained() -> None:
    """Moisture through both unlike faces, from cells stepped one by one, is the mean's gain."""
    cells, thickness, D, surfaces = 16, 7.0, 0.5, (0.08, 0.4)
    step = thickness / cells
    inward = [1 / (step / (2 * D) + 1 / s) for s in surfaces]
    moisture, entered, dt = np.zeros(cells), 0.0, 0.005
    for _ in range(4000):
        ends = (inward[0] * (1 - moisture[0]), -inward[1] * (1 - moisture[-1]))
        flow = np.concatenate([ends[:1], -np.diff(moisture) * D / step, ends[1:]])
        moisture = moisture - np.diff(flow) / step * dt
        entered += (flow[0] - flow[-1]) * dt
    assert entered == pytest.approx(moisture.sum() * step, rel=1e-10)
    lag = slab_lag(
        thickness_mm=thickness, D_mm2_per_h=D, first_mm_per_h=surfaces[0], second_mm_per_h=surfaces[1],
        cells=cells,
    )  # fmt: skip
    assert float(step_share(lag, 20.0)) == pytest.approx(moisture.mean(), abs=2e-4)


def test_a_block_is_the_product_of_its_ways() -> None:
    """What is left of a step in a block is the product over its directions, small modes lumped."""
    a = slab_lag(thickness_mm=6, D_mm2_per_h=0.4, first_mm_per_h=0.1, second_mm_per_h=0.2)
    b = slab_lag(thickness_mm=19, D_mm2_per_h=0.4, first_mm_per_h=0.2, second_mm_per_h=0.2)
    left = (1 - step_share(a, TIMES)) * (1 - step_share(b, TIMES))
    np.testing.assert_allclose(1 - step_share(block_lag(a, b), TIMES), left, atol=5e-4)
    sealed = slab_lag(thickness_mm=6, D_mm2_per_h=0.4, first_mm_per_h=0, second_mm_per_h=0)
    np.testing.assert_allclose(step_share(sealed, TIMES), 0, atol=1e-9)


def test_hourly_air_is_followed_exactly() -> None:
    """A slow wave comes out as complex numbers say, and a step from a start as the step response does."""
    lag = Lag(rate_per_h=np.array([0.0001, 0.03, 0.5]), share=np.array([0.6, 0.3, 0.1]))
    hours = np.arange(8760)
    w = 2 * np.pi * 26 / 8760
    reply = np.sum(lag.share * lag.rate_per_h / (lag.rate_per_h + 1j * w))
    found = follow_percent([lag], 9 + 3 * np.sin(w * hours))[0]
    np.testing.assert_allclose(found, 9 + 3 * np.imag(reply * np.exp(1j * w * hours)), atol=2e-4)
    step = follow_percent([lag, lag], np.full(500, 11.0), start_percent=7.0)
    np.testing.assert_allclose(step[1], 7 + 4 * step_share(lag, hours[:500]), rtol=1e-12)


def test_halving_the_cells_moves_a_year_by_less_than_a_tenth() -> None:
    """Half the cells change hourly moisture of strip and base by less than 0.1 point."""
    rng = np.random.default_rng(7)
    hours = np.arange(8760)
    air = 9 - 3.5 * np.cos(2 * np.pi * hours / 8760) + 2 * np.sin(2 * np.pi * hours / 24)
    air = air + np.repeat(rng.normal(0, 1.5, 365), 24)
    coarse_fine = []
    for cells in (20, 40):
        strip = slab_lag(
            thickness_mm=6, D_mm2_per_h=0.36, first_mm_per_h=0.17, second_mm_per_h=0.1, cells=cells
        )
        face = slab_lag(
            thickness_mm=19, D_mm2_per_h=0.36, first_mm_per_h=0.17, second_mm_per_h=0.17, cells=cells
        )
        edge = disc_lag(radius_mm=47, D_mm2_per_h=2.3, surface_mm_per_h=0.1, cells=cells)
        coarse_fine.append(follow_percent([block_lag(strip, face), block_lag(face, edge)], air))
    assert np.abs(coarse_fine[1] - coarse_fine[0]).max() < 0.1


@pytest.mark.parametrize(("end", "day1", "day14"), [("value", 83, 23), ("low", 90, 46), ("high", 80, 15)])
def test_films_solved_at_seven_days_predict_fourteen(end: str, day1: float, day14: float) -> None:
    """Urethane, polyurethane and spar varnish, 2 coats: 14 days within 4 points, 1 day within 12.

    Wood Handbook FPL-GTR-190, Table 16-3, and FPL 462. In the first day the model lets in more
    than was measured; a film that stores some moisture itself, which is not in the model, would do that.
    """
    film = film_mm_per_h("varnish", end)
    for day, published, within in ((1, day1, 12), (14, day14, 4)):
        kept_out = 100 * (1 - piece_share(film, 24 * day) / piece_share(np.inf, 24 * day))
        assert kept_out == pytest.approx(published, abs=within)


def shares_after(
    hours: float, *, film: float = np.inf, kept: str = "open", end: str = "value"
) -> list[float]:
    """Rim, inner turn and base of a bowl of 18 mm board and 7.2 mm strip, share of a step."""
    wood = diffusion_of("hardwood", moisture_percent=9.0, film_mm_per_h=film, end=end)
    air = slot_air_mm2_per_h(slot_mm=0.7, width_mm=7.2, specific_gravity=0.5, moisture_percent=9.0)
    strip = {"width_mm": 7.2, "thickness_mm": 18.0, "overlap": 0.58, "kept": kept,
             "slot_air_mm2_per_h": air}  # fmt: skip
    parts = [
        turn_lag(wood, outermost=True, **strip),
        turn_lag(wood, **strip),
        base_lag(wood, radius_mm=47, thickness_mm=18, overlap=0.58, kept=kept),
    ]
    return [float(step_share(part, hours)) for part in parts]


@pytest.mark.parametrize("kept", ["open", "flat"])
def test_a_week_reaches_the_rim_and_less_of_the_base(kept: str) -> None:
    """A bare rim covers at least 80 percent of a one-week step, the base less than the rim."""
    rim, inner, base = shares_after(168, kept=kept)
    assert rim >= 0.8
    assert base < inner < rim
    slow_rim, _, slow_base = shares_after(168, kept=kept, end="low")
    assert slow_base < slow_rim < rim


def test_a_film_keeps_out_less_from_a_thin_strip_than_from_the_test_piece() -> None:
    """A two-coat film keeps more than half out of the test piece for a week, and less of a thin strip.

    Published: paint 64 percent after 7 days. The strip is thinner than the test piece and its slot
    faces are end grain at two places, so the rim has followed more than half of a bare rim's step after
    a week; the base less than half, and so does the rim in a day.
    """
    for finish, end in (("paint", "value"), ("varnish", "low")):
        film = film_mm_per_h(finish, end)
        assert piece_share(film, 168) < 0.5 * piece_share(np.inf, 168)
        bare, filmed = shares_after(168)[0], shares_after(168, film=film)[0]
        assert piece_share(film, 168) / piece_share(np.inf, 168) < filmed / bare < 0.75
        assert shares_after(168, film=film)[2] < 0.5 * shares_after(168)[2]
        assert shares_after(24, film=film)[0] < 0.5 * shares_after(24)[0]


def test_what_bears_takes_no_moisture() -> None:
    """The more of the slot faces and of the base's edge bears when open, the slower both are."""
    wood = diffusion_of("hardwood", moisture_percent=9.0)
    section = {"width_mm": 7.2, "thickness_mm": 18.0}
    turns = [float(step_share(turn_lag(wood, overlap=o, **section), 48.0)) for o in (0.2, 0.5, 0.9)]
    bases = [
        float(step_share(base_lag(wood, radius_mm=47, thickness_mm=18, overlap=o), 48.0))
        for o in (0.2, 0.5, 0.9)
    ]
    assert turns == sorted(turns, reverse=True)
    assert bases == sorted(bases, reverse=True)


def test_end_grain_is_quicker() -> None:
    """With end grain as slow as side grain a turn follows less of a day."""
    quick = diffusion_of("hardwood", moisture_percent=9.0)
    even = Diffusion(quick.across_mm2_per_h, quick.across_mm2_per_h, quick.surface_mm_per_h)
    section = {"width_mm": 9.0, "thickness_mm": 25.0}
    assert step_share(turn_lag(even, **section), 24.0) < step_share(turn_lag(quick, **section), 24.0)


def test_coefficients_carry_their_sources() -> None:
    """Every row has a range that holds its value, a mark and a source; every finish has a row."""
    for row in read_table("diffusion"):
        assert float(row["low"]) <= float(row["value"]) <= float(row["high"])
        assert row["mark"] in MARKS
        assert row["source"]
    rows = read_table("finish_moisture")
    assert {row["finish"] for row in rows} == set(FINISHES)
    assert diffusion_of("softwood", moisture_percent=10).across_mm2_per_h == pytest.approx(0.9)
    with pytest.raises(OutsideModelError, match="2 to 20 percent"):
        diffusion_of("hardwood", moisture_percent=25)
    with pytest.raises(ValueError, match="expected open or flat"):
        base_lag(diffusion_of("hardwood", moisture_percent=9), radius_mm=9, thickness_mm=9, kept="up")


def test_imported_woods_take_up_water_as_hardwoods() -> None:
    """No coefficient of their own is known: mahogany is a hardwood, and not a softwood."""
    imported, hard, soft = (
        diffusion_of(group, moisture_percent=9.0) for group in ("imported", "hardwood", "softwood")
    )
    assert imported == hard
    assert imported.across_mm2_per_h < soft.across_mm2_per_h
