"""Every week of a year on the strip: against `fit`, against presses, and against swelling by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest
from seasons_bowls import tables

from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.elastic import open_bowl
from fitsim.bowl.fit import fit
from fitsim.bowl.inputs import Bowl, with_friction_known
from fitsim.bowl.strip_layout import laid_out
from fitsim.bowl.verdict import FALLS_THROUGH, LOCKS, SPRINGS_BACK, WILL_NOT_OPEN
from fitsim.bowlfile.defaults import make_bowl
from fitsim.seasons.moisture_year import at_moistures
from fitsim.seasons.weeks import NODES, RISE_WITHIN, WeeklyFits, fit_week, weekly_fits, weeks_to_press
from fitsim.strip.release import CLOSE

WEEKS = np.arange(52)


@pytest.fixture(scope="module")
def bowl() -> Bowl:
    """The small bowl."""
    return make_bowl(tables())


@pytest.fixture(scope="module")
def year() -> np.ndarray:
    """A made-up year: a long dry winter, a short damp summer, the turns ahead of the base and unlike."""
    air = 6.0 + 5.0 * np.exp(-(((WEEKS - 29) / 9.0) ** 2))
    ahead = np.gradient(air)
    return np.column_stack([air - 0.8 * ahead, air, air, air + 0.15 * ahead])


@pytest.fixture(scope="module")
def weekly(bowl: Bowl, year: np.ndarray) -> WeeklyFits:
    """Its weeks."""
    weeks = weeks_to_press(year)
    return weekly_fits(bowl, year, weeks, [fit_week(at_moistures(bowl, year[w])) for w in weeks])


def test_a_year_without_change_gives_fit_s_own_numbers(bowl: Bowl) -> None:
    """Where nothing changes every week is the bowl of the file, pressed as `fit` presses it."""
    still = np.full((52, 4), 8.0)
    weeks = weeks_to_press(still)
    assert weeks.tolist() == [0]
    found = weekly_fits(bowl, still, weeks, [fit_week(at_moistures(bowl, still[0]))])
    asked = fit(bowl, beyond=False).elastic
    assert asked is not None
    opening = asked.opening
    assert found.pressed == (0,)
    for number, value in (
        ("rise_mm", asked.rise_at_rest_mm),
        ("needed_N", opening.judged.needed_N),
        ("press_N", opening.judged.press_N),
        ("split_chance", opening.numbers.split_chance),
        ("kept", opening.numbers.kept),
        ("overlap", opening.numbers.overlap),
    ):
        np.testing.assert_allclose(found.each(number), value, rtol=1e-6)
    assert set(found.each("state")) == {LOCKS}


def test_the_press_is_judged_and_not_all_there_is(bowl: Bowl) -> None:
    """A maker three times as strong gets the same week: 1.25 times the press needed."""
    strong = replace(bowl, use=replace(bowl.use, press_N=3 * bowl.use.press_N))
    one, other = fit_week(bowl), fit_week(strong)
    assert one.press_N == other.press_N == pytest.approx(1.25 * one.needed_N)
    assert one.rise_mm == other.rise_mm
    assert one.numbers.split_chance == other.numbers.split_chance


def test_weeks_between_lie_where_a_press_puts_them(
    bowl: Bowl, year: np.ndarray, weekly: WeeklyFits
) -> None:
    """Weeks that were not pressed are pressed now: rise within 1 percent, chance 15, press as found.

    A bowl near slipping holds at one press and slips at the next, so the press needed of a week is found to
    a bracket of 9 percent only; the year's runs smoothly between: half of the weeks within the bracket.
    """
    assert len(weekly.pressed) == NODES
    assert 0 < weekly.rise_within < RISE_WITHIN
    others = np.setdiff1d(WEEKS, weekly.pressed)[[3, 11, 17, 22, 30]]
    apart = []
    for week in others:
        told, pressed = weekly.weeks[week], fit_week(at_moistures(bowl, year[week]))
        assert told.state == pressed.state
        assert told.rise_mm == pytest.approx(pressed.rise_mm, rel=0.01)
        assert told.rim_out_of_level_mm == pytest.approx(pressed.rim_out_of_level_mm, rel=0.05)
        apart.append(abs(told.needed_N / pressed.needed_N - 1))
        # The chance goes with the sixth power of the press: held at one press.
        there = open_bowl(at_moistures(bowl, year[week]), press_N=told.press_N)
        assert told.numbers.split_chance == pytest.approx(there.numbers.split_chance, rel=0.15)
        assert told.numbers.slot_left_mm == pytest.approx(pressed.numbers.slot_left_mm, rel=1e-9)
        assert told.chance_low < told.numbers.split_chance < told.chance_high
    assert np.median(apart) < CLOSE
    assert max(apart) < 0.18


def test_a_week_is_fit_of_a_bowl_file_with_that_moisture(bowl: Bowl, year: np.ndarray) -> None:
    """Base and turns of a week written into a bowl file give the week's own bowl, to the last digit."""
    row = year[24]
    text = [f"{percent} %" for percent in row]
    # The spiral has a fourth turn, which is trimmed off.
    filed = make_bowl(tables(use={"base_moisture": text[0], "turn_moisture": [*text[1:], text[-1]]}))
    there, here = (rigid_fit(b).numbers for b in (filed, at_moistures(bowl, row)))
    assert there == here
    assert filed.use.turn_moisture_percent[:3] == pytest.approx(row[1:].tolist())


@pytest.mark.parametrize("change", [-3.5, 4.0])
def test_bevels_bind_at_a_drop_that_scales_with_the_thickness(bowl: Bowl, change: float) -> None:
    """An even swelling is affine: slot over tan of the bevel grows as the height, not as the width."""
    now = at_moistures(bowl, np.full(4, 8.0 + change))
    drops = []
    for each in (bowl, now):
        seats = laid_out(each, rigid_fit(each), 24)[0].seats
        drops.append(seats.slot_mm / np.tan(seats.tilt_rad))
    # Cherry: 0.00126 radial, 0.00248 tangential a point (Wood Handbook, Table 13-5), rings at 20 degrees.
    through = 0.00126 * np.cos(np.radians(20)) ** 2 + 0.00248 * np.sin(np.radians(20)) ** 2
    np.testing.assert_allclose(drops[1], (1 + change * through) * drops[0], rtol=1e-9)


def test_a_bowl_sawn_wet_and_kept_dry_is_shallower(bowl: Bowl) -> None:
    """Dried by 5 points all through, the rise goes with the thickness, a percent or so less."""
    wet = replace(bowl, board=replace(bowl.board, moisture_percent=12.0))
    as_sawn, dried = (fit_week(at_moistures(wet, np.full(4, m))) for m in (12.0, 7.0))
    through = 0.00126 * np.cos(np.radians(20)) ** 2 + 0.00248 * np.sin(np.radians(20)) ** 2
    assert dried.rise_mm < as_sawn.rise_mm
    # Dry wood is stiffer too and is judged at another press: that moves the rise a little either way.
    assert dried.rise_mm / as_sawn.rise_mm == pytest.approx(1 - 5 * through, abs=0.008)


def test_a_base_drier_than_its_turns_makes_a_deeper_bowl(bowl: Bowl) -> None:
    """A base 2 points drier leaves the first slot wider by 2 r (C_x + C_y)/2: its turn sinks more."""
    even, apart = (fit_week(at_moistures(bowl, np.array([base, 9.0, 9.0, 9.0]))) for base in (9.0, 7.0))
    across = 0.00248 * np.cos(np.radians(20)) ** 2 + 0.00126 * np.sin(np.radians(20)) ** 2
    wider = 2 * 38 * (across + bowl.board.wood.swell_L_per_point.value) / 2
    deeper = wider / np.tan(np.radians(5.2))
    # The strip is elastic and rides where the slot is narrow: not all of the mean reaches the rim.
    assert 0.3 * deeper < apart.rise_mm - even.rise_mm < 1.1 * deeper
    assert apart.numbers.slot_left_mm >= even.numbers.slot_left_mm - 1e-9


def test_what_is_not_smooth_is_pressed_week_by_week(bowl: Bowl) -> None:
    """A bowl whose state changes in the year has every kind of week pressed, and no surface."""
    moist = np.column_stack([np.linspace(4, 20, 16)] + [np.linspace(3.7, 20.3, 16)] * 3)
    bowl = with_friction_known(bowl, bowl.use.friction)  # a lesser one would not ask where it lacks press
    weeks = weeks_to_press(moist)
    driest, wettest = (fit_week(at_moistures(bowl, row)).needed_N for row in (moist[0], moist[-1]))
    press_N = 1.25 * math.sqrt(driest * wettest)  # enough for the wet and limp strip alone
    weak = replace(bowl, use=replace(bowl.use, press_N=press_N))
    pressed = [fit_week(at_moistures(weak, moist[w])) for w in weeks]
    assert {w.state for w in pressed} == {SPRINGS_BACK, LOCKS}
    found = weekly_fits(weak, moist, weeks, pressed)
    assert found.pressed == tuple(range(16))
    assert (found.rise_within, found.chance_within) == (0.0, 0.0)
    for week in range(16):
        asked = found.weeks[week].numbers.press_asked
        assert (found.weeks[week].state == SPRINGS_BACK) == (asked > 1)


@pytest.mark.parametrize(
    ("changes", "state"),
    [({"cut": {"kerf": "2.4 mm"}}, FALLS_THROUGH), ({"use": {"film": "0.4 mm"}}, WILL_NOT_OPEN)],
)
def test_what_does_not_stay_open_has_no_rise(changes: dict[str, dict[str, str]], state: str) -> None:
    """A slot shut by film and a turn that falls through have their state and no number for their rim."""
    found = fit_week(make_bowl(tables(**changes)))
    assert found.state == state
    assert not found.stays_open
    assert np.isnan(found.rim_out_of_level_mm)
