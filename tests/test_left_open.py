"""A bowl left standing open: order of the weeks, spells, what cannot stand, bounds of months."""

from dataclasses import replace

import numpy as np
import pytest
from seasons_bowls import tables

from fitsim.bowl.elastic import open_bowl
from fitsim.bowl.fit import fit
from fitsim.bowl.inputs import Bowl, with_input
from fitsim.bowl.verdict import FALLS_THROUGH, LOCKS, SPRINGS_BACK
from fitsim.bowlfile.defaults import make_bowl
from fitsim.seasons.creep import standing
from fitsim.seasons.left_open import EVENT_SHARE, LeftOpen, left_open, pull_tight_events, stood_open
from fitsim.seasons.moisture_year import MoistureYear, at_moistures
from fitsim.seasons.swelling_strip import as_opened, swell
from fitsim.seasons.weeks import fit_week
from fitsim.strip.results import turn_forces
from fitsim.tables import MARKS, read_table

TURNS = 3
OPENED = 4
SMALL = {"across": "110 mm"}
"""Two turns, at one friction: a range of it asks for three presses."""
MOIST = np.array([
    [8.6, 8.5, 8.5],
    [8.3, 8.2, 8.2],
    [8.0, 7.9, 7.9],
    [7.8, 7.8, 7.8],
    [7.9, 8.0, 8.05],
    [8.2, 8.4, 8.45],
])  # fmt: skip
"""Six weeks, the last of them before the first: drying, then damper."""


@pytest.fixture(scope="module")
def bowl() -> Bowl:
    """A bowl smaller yet than the small one."""
    return make_bowl(tables(board=SMALL, use={"friction": "0.37"}))


def year_of(moist: np.ndarray) -> MoistureYear:
    """A made-up year of as many weeks as there are rows: moisture of the base, then of every turn."""
    weeks = len(moist)
    return MoistureYear(
        start_h=np.arange(weeks) * 168.0,
        moisture_percent=moist,
        daily_percent=moist,
        base_rock_mm=np.zeros(weeks),
        last_share=1.0,
    )


def across_MPa(percent: float, *, ring_rad: float) -> float:
    """Cherry across its grain in the plane of a board, by hand.

    3.9 MPa is the handbooks' mean; 0.87 of it pulled tangentially, 1.13 radially, a quarter less at rings
    of 45 degrees; 1.12 of it at 6 percent, 0.8 at 20 (Wood Handbook, Table 5-14, from memory).
    """
    tangential, radial = np.cos(ring_rad) ** 2, np.sin(ring_rad) ** 2
    direction = (0.87 * tangential + 1.13 * radial) * (1 - 0.25 * np.sin(2 * ring_rad) ** 2)
    parabola = np.polynomial.Polynomial.fit([6.0, 12.0, 20.0], [1.12, 1.0, 0.8], 2)
    return float(3.9 * direction * parabola(percent))


@pytest.fixture(scope="module")
def held(bowl: Bowl) -> LeftOpen:
    """Opened in the fifth week."""
    return left_open(bowl, year_of(MOIST), OPENED)


def test_the_week_of_opening_is_an_opening(bowl: Bowl, held: LeftOpen) -> None:
    """In the week it is opened rise, level and chance are those of pressing it open then."""
    week = fit_week(at_moistures(bowl, MOIST[OPENED]))
    assert held.rise_mm[OPENED] == pytest.approx(week.rise_mm, rel=1e-9)
    assert held.rim_out_of_level_mm[OPENED] == pytest.approx(week.rim_out_of_level_mm, rel=1e-9)
    assert held.split_chance[OPENED] == pytest.approx(week.numbers.split_chance, rel=1e-9)
    np.testing.assert_allclose(held.pull_MPa[OPENED], 0, atol=1e-12)
    assert held.stands
    assert held.ends == ""
    assert held.collapse_N > 0
    assert held.chance_low <= np.nanmax(held.split_chance) <= held.chance_high


def test_weeks_before_the_opening_are_those_of_the_year_after(bowl: Bowl, held: LeftOpen) -> None:
    """Going through the weeks in the order they come gives the same numbers, turned round."""
    order = [4, 5, 0, 1, 2, 3]
    found = stood_open(bowl, MOIST[order])
    np.testing.assert_array_equal(held.rise_mm[order], found.rise_mm)
    np.testing.assert_array_equal(held.pull_MPa[order], found.pull_MPa)
    # As it stands nobody presses it: splitting is less likely than on opening.
    assert np.all(found.split_chance[1:] < found.split_chance[0] * 1.5)


def test_turns_that_swell_more_than_the_base_use_more_of_the_friction(bowl: Bowl) -> None:
    """Damper turns on a drier base loosen the innermost seat and use more friction; drier turns use less.

    What was last seen to stand is told, also where it is followed no further; nothing of what never stood.
    """
    asked = open_bowl(at_moistures(bowl, MOIST[OPENED])).judged.needed_N
    soft = replace(bowl, limits=replace(bowl.limits, press_spare=1.15))
    base, turns = MOIST[OPENED, :1], MOIST[OPENED, 1:]
    used = {
        change: stood_open(
            soft, np.array([MOIST[OPENED], np.concatenate([base + 0.4 * change, turns + change])])
        )
        for change in (-0.6, 0.0, 0.5)
    }
    assert used[-0.6].last_used < used[0.0].last_used < used[0.5].last_used <= 1
    assert np.isfinite(used[0.5].rise_mm[0])
    assert np.isnan(stood_open(with_input(bowl, "use.press_N", 0.3 * asked), MOIST[:1]).last_used)


def test_a_bowl_that_cannot_stand_says_so() -> None:
    """One that falls through has no rise in any week, nothing to free, and the reason."""
    wide = make_bowl(tables(board=SMALL, cut={"kerf": "2.4 mm"}))
    found = left_open(wide, year_of(MOIST), 2)
    assert np.all(np.isnan(found.rise_mm))
    assert np.all(np.isnan(found.split_chance))
    assert not found.stands
    assert found.ends == FALLS_THROUGH
    assert found.collapse_N == 0
    assert pull_tight_events(wide, year_of(MOIST), found) == ()


def test_what_fit_says_of_the_opening_decides_whether_it_stands(bowl: Bowl) -> None:
    """Too little that bears, or too little press for the spare: as `fit` has it, and no week has a rise."""
    at = at_moistures(bowl, MOIST[OPENED])
    opening = open_bowl(at)
    bears, needed_N = opening.numbers.overlap, opening.judged.needed_N
    assert opening.released is not None
    assert opening.released.kept > 0.9  # it holds: only limits decide
    changes = (
        ({"overlap": bears + 0.004}, bowl.use.press_N, FALLS_THROUGH),
        ({"overlap": bears - 0.004}, bowl.use.press_N, LOCKS),
        ({"press_spare": 1.3}, 1.22 * needed_N, SPRINGS_BACK),
        ({"press_spare": 1.15}, 1.22 * needed_N, LOCKS),
    )
    for limits, press_N, state in changes:
        changed = with_input(replace(bowl, limits=replace(bowl.limits, **limits)), "use.press_N", press_N)
        there = fit(at_moistures(changed, MOIST[OPENED]), beyond=False)
        assert there.verdict.state_in_middle == state
        found = stood_open(changed, MOIST[OPENED:])
        assert np.isfinite(found.rise_mm).tolist() == [state == LOCKS] * len(MOIST[OPENED:])
        assert found.ends == ("" if state == LOCKS else state)


def test_it_falls_through_once_too_little_bears_as_it_stands(bowl: Bowl) -> None:
    """A base that dries under turns that swell lets them sink: below the limit it no longer stands.

    What bears is asked of the seats, turn by turn, without a limit.
    """
    hard = replace(bowl, limits=replace(bowl.limits, press_spare=1.9))
    rows = MOIST[OPENED] + np.array([[0.0, 0.0, 0.0], [-0.4, 0.4, 0.4], [-0.8, 0.8, 0.8]])
    first = at_moistures(hard, rows[0])
    standing, bears = as_opened(first, open_bowl(first, lowering=False)), list[float]()
    for row in (*rows[1:], rows[-1]):
        assert standing is not None
        bears.append(float(turn_forces(standing.elastic, standing.state).least_overlap.min()))
        standing = swell(standing, at_moistures(hard, row)).standing
    assert bears[0] > bears[1] + 3e-4
    for limit, stands in ((min(bears) - 2e-4, 3), ((bears[0] + bears[1]) / 2, 1)):
        found = stood_open(replace(hard, limits=replace(hard.limits, overlap=limit)), rows)
        assert np.isfinite(found.rise_mm).tolist() == [True] * stands + [False] * (3 - stands)
        assert found.ends == ("" if stands == 3 else FALLS_THROUGH)


def test_a_spell_runs_over_the_turn_of_the_year(bowl: Bowl, held: LeftOpen) -> None:
    """Weeks 7, 0 and 1 of an eight-week year are one spell, week 4 another; the tightest comes first."""
    weeks = 8
    damp, dry = (across_MPa(percent, ring_rad=np.radians(20)) for percent in (8.0, 7.0))
    pull = np.zeros((weeks, TURNS))
    pull[[7, 0, 1], 0] = np.array([0.3, 0.5, 0.2]) * dry
    pull[4, 2] = 0.1 * damp
    pull[5, 1] = 0.9 * EVENT_SHARE * damp
    year = year_of(np.array([[8.0, 7.0, 8.0, 8.0]] * weeks))
    events = pull_tight_events(bowl, year, replace(held, pull_MPa=pull))
    assert [(e.turn, e.first_week, e.last_week, e.worst_week) for e in events] == [
        (1, 7, 1, 0),
        (3, 4, 4, 4),
    ]
    assert events[0].difference_points == pytest.approx(1.0)
    assert events[0].strength_share == pytest.approx(0.5)
    always = replace(held, pull_MPa=np.full((weeks, TURNS), damp))
    assert {(e.first_week, e.last_week) for e in pull_tight_events(bowl, year, always)} == {(0, 7)}


@pytest.mark.parametrize(("ring_deg", "by_hand"), [(0, 0.87), (45, 0.75), (90, 1.13), (71, 0.9984)])
def test_a_pull_is_held_against_the_strength_across_of_that_turn(
    bowl: Bowl, held: LeftOpen, ring_deg: float, by_hand: float
) -> None:
    """The handbook's mean by the rings' direction and the turn's moisture that week, no other's.

    Below a twentieth of it nothing is told, above it is.
    """
    leaning = replace(bowl, board=replace(bowl.board, ring_angle_rad=np.radians(ring_deg)))
    # Every turn another moisture; the second is damp in the week that counts, dry in the others.
    moist = np.array([[9.0, 8.5, 5.0, 11.0], [9.0, 8.0, 15.0, 6.0], [9.0, 8.5, 5.0, 11.0]])
    strong = across_MPa(15.0, ring_rad=np.radians(ring_deg))
    # Table 5-14 (from memory) by its parabola at 15 percent, and the handbook's 3.9 MPa of cherry.
    assert strong == pytest.approx(3.9 * by_hand * 0.931, rel=2e-3)
    for share, told in ((1.03, 1), (0.97, 0)):
        pull = np.zeros((3, TURNS))
        pull[1, 1] = share * EVENT_SHARE * strong
        events = pull_tight_events(leaning, year_of(moist), replace(held, pull_MPa=pull))
        assert len(events) == told
        for event in events:
            assert (event.turn, event.worst_week) == (2, 1)
            assert event.strength_share == pytest.approx(share * EVENT_SHARE, rel=1e-6)
            assert event.difference_points == pytest.approx(8.0 - 15.0)


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
