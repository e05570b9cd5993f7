"""The elastic strip in single weeks: its wood, a push on its rim, and what cannot be answered."""

from dataclasses import replace

import numpy as np
import pytest

from fitsim.assume import make_bowl
from fitsim.beam import laid_out
from fitsim.bowl import Bowl
from fitsim.elastic import Opening, open_bowl
from fitsim.rigid import rigid_fit
from fitsim.strength import grain_strength
from fitsim.stress import strip_stress
from fitsim.worstweeks import (
    SMALL_PUSH_N,
    elastic_week,
    play_under_push_mm,
    standing_chances,
)
from fitsim.yearfit import YearFit, at_moistures, year_fit

HOURS = np.arange(1344)


@pytest.fixture(scope="module")
def bowl() -> Bowl:
    """A small invented cherry bowl of three turns, its rings leaning."""
    board = {
        "wood": "cherry",
        "thickness": "18.3 mm",
        "across": "131 mm",
        "moisture": "8 %",
        "grain": "20 deg",
    }
    cut = {"tilt": "5.2 deg", "kerf": "0.72 mm", "pitch": "8.4 mm", "base": "76 mm"}
    return make_bowl({"board": board, "cut": cut, "use": {"finish": "none"}})


@pytest.fixture(scope="module")
def opening(bowl: Bowl) -> Opening:
    """Opened with its turns drier than its base."""
    return open_bowl(at_moistures(bowl, np.array([8.0, 7.4, 7.3, 7.2])))


@pytest.fixture(scope="module")
def year(bowl: Bowl) -> YearFit:
    """Eight weeks of a room that dries."""
    return year_fit(bowl, 9.0 - 3.0 * HOURS / HOURS[-1], start_percent=9.0)


def test_the_strip_s_wood_is_the_one_it_was_pressed_with(bowl: Bowl, opening: Opening) -> None:
    """Stress from wood laid out here is the opening's own, at whichever state of the path was worst."""
    then = at_moistures(bowl, np.array([8.0, 7.4, 7.3, 7.2]))
    _, wood = laid_out(then, rigid_fit(then), opening.springy.nodes_per_turn)
    strength = grain_strength(bowl.board.wood, 7.4)
    seen = [strip_stress(opening.springy, state, wood, strength) for state in opening.path[1:]]
    worst = max(seen, key=lambda s: s.chance)
    assert worst.chance == pytest.approx(opening.stress.chance, rel=1e-9)
    np.testing.assert_allclose(worst.ratio, opening.stress.ratio, rtol=1e-9)
    np.testing.assert_allclose(worst.clock_rad, opening.stress.clock_rad, atol=1e-12)


def test_a_pull_adds_tension_along_its_turn_alone(bowl: Bowl, opening: Opening) -> None:
    """A pulled turn has more tension where it crosses the grain; the other turns stay as they are."""
    assert opening.rest is not None
    _, wood = laid_out(bowl, rigid_fit(bowl), opening.springy.nodes_per_turn)
    strength = grain_strength(bowl.board.wood, 8.0)
    plain = strip_stress(opening.springy, opening.rest, wood, strength)
    pull = np.array([0.0, 3.0, 0.0])
    pulled = strip_stress(opening.springy, opening.rest, wood, strength, pulled_MPa=pull)
    second = plain.turn == 2
    np.testing.assert_array_equal(pulled.greatest_MPa[:, ~second], plain.greatest_MPa[:, ~second])
    crossing = second & (np.abs(np.sin(plain.psi_rad)) > 0.98)
    more = pulled.greatest_MPa[2, crossing] - plain.greatest_MPa[2, crossing]
    assert np.all(more > 2)
    assert pulled.chance > plain.chance


def test_a_small_push_moves_the_rim_in_proportion(opening: Opening) -> None:
    """Half the push, about half the travel: hundredths of a millimetre while every seat sticks."""
    assert opening.rest is not None
    whole, half = (play_under_push_mm(opening.springy, opening.rest, push_N=p) for p in (5.0, 2.5))
    assert 0 < whole < 0.5
    assert half == pytest.approx(whole / 2, rel=0.25)


def test_a_week_is_one_opening(bowl: Bowl, opening: Opening) -> None:
    """Chance, level and rise of a week are those of the opening; it holds and can be freed."""
    found = elastic_week(at_moistures(bowl, np.array([8.0, 7.4, 7.3, 7.2])), 3)
    assert found.week == 3
    assert found.trouble == ""
    assert found.split_chance == opening.numbers.split_chance
    assert opening.numbers.friction_used < 1
    assert 0 < found.collapse_N < bowl.use.press_N
    assert found.rise_mm == pytest.approx(opening.rim.mean_mm, rel=0.02)
    assert 0 < found.rim_out_of_level_mm < found.rise_mm
    assert found.collapse_N > SMALL_PUSH_N


def test_what_has_no_answer_says_why(bowl: Bowl) -> None:
    """A slot shut by film, and a bowl that falls through, give a reason and no numbers."""
    shut = elastic_week(replace(bowl, use=replace(bowl.use, film_mm=0.4)), 5)
    assert "shut" in shut.trouble
    assert np.isnan(shut.rim_out_of_level_mm)
    wide = elastic_week(replace(bowl, cut=replace(bowl.cut, kerf_mm=(2.4,))), 6)
    assert "falls through" in wide.trouble
    assert np.isnan(wide.play_mm)


def test_a_bowl_left_open_keeps_its_chance_until_it_is_pulled(bowl: Bowl, year: YearFit) -> None:
    """Without a pull the weeks differ by strength alone; a pull makes its own week worse and no other."""
    pulled = np.zeros((len(year.fits), 3))
    plain = standing_chances(bowl, year, 0, pulled)
    assert np.ptp(plain) < 0.1
    pulled[5, 0] = 1.5
    worse = standing_chances(bowl, year, 0, pulled)
    assert worse[5] > 3 * plain[5]
    np.testing.assert_array_equal(np.delete(worse, 5), np.delete(plain, 5))
    wide = replace(bowl, cut=replace(bowl.cut, kerf_mm=(2.4,)))
    assert np.all(np.isnan(standing_chances(wide, year, 0, pulled)))
