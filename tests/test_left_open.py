"""A bowl left standing open: laws of what friction holds, and the hoop formula written out."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitsim.arrays import Array
from fitsim.assume import make_bowl
from fitsim.bowl import Bowl
from fitsim.creep import standing
from fitsim.leftopen import (
    EVENT_SHARE,
    LeftOpen,
    clearance_mm,
    left_open,
    pull_tight_events,
)
from fitsim.rigid import rigid_fit
from fitsim.ring import SlotFaces
from fitsim.seat import binding_drop_mm
from fitsim.tables import MARKS, read_table
from fitsim.yearfit import YearFit, at_moistures, play_mm

# Cherry, Wood Handbook, Table 13-5: change coefficients 0.00126 radial, 0.00248 tangential.
C_T = 0.00248
TURNS = 6


@pytest.fixture(scope="module")
def bowl() -> Bowl:
    """An invented flat-sawn cherry bowl of six turns."""
    board = {"wood": "cherry", "thickness": "18.3 mm", "across": "190 mm", "moisture": "8 %",
             "grain": "flat-sawn"}  # fmt: skip
    cut = {"tilt": "5.2 deg", "kerf": "0.72 mm", "pitch": "7.7 mm", "base": "93 mm"}
    return make_bowl({"board": board, "cut": cut, "use": {"finish": "none", "press": "100 N"}})


def year_of(bowl: Bowl, rows: list[list[float]]) -> YearFit:
    """A made-up year of as many weeks as there are rows: moisture of the base, then of every turn."""
    moist = np.array(rows)
    fits = tuple(rigid_fit(at_moistures(bowl, row)) for row in moist)
    weeks = len(rows)
    nothing = np.zeros(weeks)
    return YearFit(
        start_h=np.arange(weeks) * 168.0,
        base_moisture_percent=moist[:, 0],
        rim_moisture_percent=moist[:, -1],
        turn_moisture_percent=moist[:, 1:],
        base_rock_mm=nothing,
        rim_out_of_level_mm=nothing,
        play_mm=np.array([play_mm(fit) for fit in fits]),
        slot_left_mm=nothing,
        split_chance=nothing,
        daily_moisture_percent=moist,
        fits=fits,
        driest_week=0,
        wettest_week=0,
    )


def moved(bowl: Bowl, base: float, turns: list[float]) -> tuple[YearFit, LeftOpen]:
    """Opened at an even 8 percent, then at the moistures given."""
    year = year_of(bowl, [[8.0] * (TURNS + 1), [base, *turns]])
    return year, left_open(bowl, year, opened_week=0)


def hoop_give(bowl: Bowl) -> float:
    """Mean of 1/E_s round a turn, from the four constants of the board's plane, at 12 percent."""
    wood = bowl.board.wood
    E_x, E_y, G = wood.E_L_MPa.value, wood.E_T_MPa.value, wood.G_LT_MPa.value
    nu = wood.nu_LT.value
    return 3 / 8 * (1 / E_x + 1 / E_y) + 1 / 8 * (1 / G - 2 * nu / E_x)


@pytest.mark.parametrize("moisture", [4.5, 13.0])
def test_even_drying_and_wetting_change_nothing(bowl: Bowl, moisture: float) -> None:
    """A bowl whose every part changes alike stays an affine copy: no turn tight, none loose, no play."""
    _, held = moved(bowl, moisture, [moisture] * TURNS)
    np.testing.assert_allclose(held.hoop_MPa[1], 0, atol=0.005)
    assert not held.loose.any()
    np.testing.assert_allclose(held.play_mm, 0, atol=0.02)


@pytest.mark.parametrize("drier", [0.4, 1.3])
def test_a_turn_drier_than_the_base_is_a_hoop_shrunk_on_a_solid(bowl: Bowl, drier: float) -> None:
    """Tension of the first turn: (C_x + C_y)/2 times the difference over the mean of 1/E_s."""
    _, held = moved(bowl, 8.0, [8.0 - drier] * TURNS)
    strain = drier * (bowl.board.wood.swell_L_per_point.value + C_T) / 2
    # Dry wood is stiffer: exponential rule from 12 to about 8 percent, a few percent for cherry.
    assert held.hoop_MPa[1, 0] == pytest.approx(strain / hoop_give(bowl), rel=0.12)
    assert held.hoop_MPa[1, 0] > strain / hoop_give(bowl)
    np.testing.assert_allclose(held.hoop_MPa[1, 1:], 0, atol=0.01)
    np.testing.assert_allclose(held.hoop_MPa[0], 0, atol=1e-9)


def test_a_wet_turn_comes_loose_and_a_dry_base_lets_go(bowl: Bowl) -> None:
    """Wetter than its base by points the first turn has room all round, no tension, and can be tipped."""
    _, held = moved(bowl, 6.0, [10.0] * TURNS)
    assert held.hoop_MPa[1, 0] == 0
    assert held.loose[1].tolist() == [True] + [False] * (TURNS - 1)
    assert held.play_mm[1] > 1
    assert held.play_mm[0] < 0.02
    # A little wetter it still touches where the strip crosses no grain: room on two sides is not loose.
    _, touching = moved(bowl, 7.7, [8.0] * TURNS)
    assert not touching.loose.any()
    assert touching.play_mm[1] > 0.2


def test_a_dry_turn_closes_its_slot_across_the_grain_and_not_along_it(bowl: Bowl) -> None:
    """Room lost at the held drop is r C_T times the difference across the grain, and hardly any along."""
    year, held = moved(bowl, 9.0, [7.0, *[7.0] * (TURNS - 1)])
    fit = year.fits[1]
    first = fit.faces.turn == 0
    height = (fit.faces.inner_thickness_mm + fit.faces.outer_thickness_mm) / 2
    room = clearance_mm(fit.faces, held.held_share[fit.faces.turn] * height)[first]
    normal = np.interp(fit.faces.angle_rad, fit.slot.angle_rad, np.abs(fit.slot.normal[:, 0]))[first]
    radius = np.interp(fit.faces.angle_rad, fit.slot.angle_rad, fit.slot.radius_mm)[first]
    across, along = int(np.argmin(normal)), int(np.argmax(normal))
    assert room[across] == pytest.approx(-radius[across] * 2 * C_T, rel=0.06)
    assert abs(room[along]) < 0.12 * abs(room[across])


@given(
    slot=st.floats(0.2, 1.5), inner=st.floats(0.04, 0.2), more=st.floats(-0.004, 0.004),
    heights=st.tuples(st.floats(8, 25), st.floats(-0.3, 0.3)),
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_room_vanishes_at_the_seat(
    slot: float, inner: float, more: float, heights: tuple[float, float]
) -> None:
    """At the drop at which two bevels bind there is no room left, above it some, below it too little."""
    one = np.ones(1)
    faces = SlotFaces(
        angle_rad=0 * one, slot_mm=slot * one, inner_slope=inner * one, outer_slope=(inner + more) * one,
        inner_thickness_mm=heights[0] * one, outer_thickness_mm=(heights[0] + heights[1]) * one,
        turn=np.zeros(1, dtype=np.int64), share=one,
    )  # fmt: skip
    drop = binding_drop_mm(
        slot_mm=faces.slot_mm, inner_slope=faces.inner_slope, outer_slope=faces.outer_slope,
        inner_thickness_mm=faces.inner_thickness_mm, outer_thickness_mm=faces.outer_thickness_mm,
    )  # fmt: skip
    if drop[0] > 0:
        assert clearance_mm(faces, drop)[0] == pytest.approx(0, abs=1e-12)
        assert clearance_mm(faces, drop - 0.1)[0] > 0 > clearance_mm(faces, drop + 0.1)[0]


def test_tension_makes_splitting_likelier(bowl: Bowl) -> None:
    """When opened the chance is that of opening, and it grows with the pull on a turn."""
    first = rigid_fit(at_moistures(bowl, np.full(TURNS + 1, 8.0))).numbers.split_chance
    chances = []
    for drier in (0.0, 0.5, 1.0, 2.0):
        _, held = moved(bowl, 8.0, [8.0 - drier] * TURNS)
        assert held.split_chance[0] == pytest.approx(first, rel=1e-9)
        chances.append(held.split_chance[1])
    assert chances == sorted(chances)
    assert chances[-1] > 10 * chances[0]


def test_tension_alone_splits_as_tension_across_the_grain(bowl: Bowl) -> None:
    """Without any drop splitting is the hoop's tension over strength across, by the volume pulled."""
    from fitsim.grain import board_stiffness
    from fitsim.split import split_estimate
    from fitsim.strength import grain_strength

    fit = rigid_fit(bowl)
    strength = grain_strength(bowl.board.wood, 12.0)
    flat = replace(fit.seats, seat_drop_mm=np.zeros(TURNS))
    pulled = np.array([0.2, 1.7, 0.3, 0.1, 0.0, 0.2])
    found = split_estimate(
        fit.slot, fit.strip, flat, thickness_mm=18.3, ring_angle_rad=0.0,
        stiffness=board_stiffness(bowl.board.wood.orthotropic(), ring_angle_rad=0.0), strength=strength,
        pulled_MPa=pulled,
    )  # fmt: skip
    assert found.turn == 2
    assert found.cause == "tension across the grain"
    # Across the grain the pull is 1.7 sin^2(psi), shear along it 1.7 sin(psi) cos(psi).
    weak, shear = strength.across_MPa(0.0), strength.shear_along_MPa
    assert found.ratio == pytest.approx(1.7 / weak, rel=1e-3)
    s, c = np.sin(psi := np.linspace(0, np.pi, 20001)), np.cos(psi)
    mean = np.trapezoid(((s**2 / weak) ** 2 + (s * c / shear) ** 2) ** 3, psi) / np.pi
    turn = fit.faces.turn == 1
    length = 2 * np.pi * float(fit.strip.radius_mm[turn].mean())
    volume = length * bowl.board.thickness_mm * float(fit.strip.width_mm[turn].mean())
    risk = 1.7**6 * float(mean) * volume / strength.reference_mm3
    assert float(found.split.risks[0, 1]) == pytest.approx(risk, rel=0.03)


def test_a_spell_runs_over_the_turn_of_the_year(bowl: Bowl) -> None:
    """Weeks 7, 0 and 1 of an eight-week year are one spell, week 4 another; the tightest comes first."""
    weeks = 8
    strong = bowl.board.wood.tension_across_MPa.value
    hoop: Array = np.zeros((weeks, TURNS))
    hoop[[7, 0, 1], 0] = np.array([0.3, 0.5, 0.2]) * strong
    hoop[4, 2] = 0.1 * strong
    hoop[5, 3] = 0.9 * EVENT_SHARE * strong
    year = year_of(bowl, [[8.0, 7.0, *[8.0] * (TURNS - 1)]] * weeks)
    held = replace(left_open(bowl, year, opened_week=0), hoop_MPa=hoop)
    events = pull_tight_events(bowl, year, held)
    assert [(e.turn, e.first_week, e.last_week, e.worst_week) for e in events] == [
        (1, 7, 1, 0),
        (3, 4, 4, 4),
    ]
    assert events[0].difference_points == pytest.approx(1.0)
    assert events[0].strength_share == pytest.approx(0.5)
    always = replace(held, hoop_MPa=np.full((weeks, TURNS), strong))
    assert {(e.first_week, e.last_week) for e in pull_tight_events(bowl, year, always)} == {(0, 7)}


def test_months_of_standing_are_bounded() -> None:
    """0.15 to 0.7 of stress and push are left; set is the rest of the rise, half of it returns."""
    bounds = standing(collapse_N=80.0, rise_mm=40.0)
    assert bounds.collapse_N == pytest.approx((12.0, 40.0, 56.0))
    assert bounds.set_rise_mm == pytest.approx((12.0, 20.0, 34.0))
    assert bounds.later_rise_mm == pytest.approx((12.0 * 0.3, 20.0 * 0.5, 34.0 * 0.7))
    # Madison curve at a year: 0.183 + 1.084 (3.16e7)^-0.0464.
    assert bounds.strength_left == pytest.approx(0.183 + 1.084 * 3.156e7**-0.0464, rel=1e-3)
    for row in read_table("creep"):
        assert float(row["low"]) < float(row["value"]) < float(row["high"])
        assert row["mark"] in MARKS
        assert row["source"]
