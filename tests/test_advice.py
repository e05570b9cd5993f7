"""Advice: solved moistures against brute force, times against the exact series and workshop advice."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize

from fitsim.bowl.inputs import Bowl
from fitsim.bowlfile.defaults import make_bowl
from fitsim.climate.diffusion import diffusion_of
from fitsim.seasons.advice import NEAR_POINTS, advise, saw_at, wait_after_move
from fitsim.seasons.moisture_year import MoistureYear, moisture_year
from fitsim.wood.finishes import FINISHES

HOURS = np.arange(8760)
# A lopsided made-up year: a long dry winter, a short damp summer.
NEAR_PITH_MM = 55.0
AIR = 6.2 + 6.0 * np.exp(-((((HOURS / 24 - 205 + 182) % 365 - 182) / 45.0) ** 2))


@pytest.fixture(scope="module")
def bowl() -> Bowl:
    """An invented cherry bowl, bare."""
    board = {"wood": "cherry", "thickness": "18.3 mm", "across": "191 mm", "moisture": "8 %"}
    cut = {"tilt": "5.2 deg", "kerf": "0.72 mm", "pitch": "8.1 mm", "base": "93 mm"}
    return make_bowl({"board": board, "cut": cut, "use": {"finish": "none"}})


@pytest.fixture(scope="module")
def year(bowl: Bowl) -> MoistureYear:
    """Its year."""
    return moisture_year(bowl, AIR)


def test_in_air_that_never_changes_it_is_sawn_at_that_air(bowl: Bowl) -> None:
    """Without seasons the least rocking is none at all, at the moisture of the room."""
    still = moisture_year(bowl, np.full(8760, 9.3))
    found = saw_at(bowl, still, pith_mm=150.0)
    assert found.moisture_percent == pytest.approx(9.3, abs=0.01)
    assert found.worst_mm < 0.01 * found.worst_as_is_mm


def test_no_other_moisture_rocks_less(bowl: Bowl, year: MoistureYear) -> None:
    """Sawn anew and followed through the year, half a point to either side rocks more in the worst week."""

    def worst_mm(moisture: float) -> float:
        sawn = replace(bowl, board=replace(bowl.board, moisture_percent=moisture))
        return float(moisture_year(sawn, AIR, pith_mm=NEAR_PITH_MM).base_rock_mm.max())

    found = saw_at(bowl, year, pith_mm=NEAR_PITH_MM)
    best = found.moisture_percent
    assert worst_mm(best) == pytest.approx(found.worst_mm, rel=0.01)
    assert worst_mm(8.0) == pytest.approx(found.worst_as_is_mm, rel=0.01)
    for other in (best - 0.5, best + 0.5):
        assert worst_mm(other) > 1.05 * worst_mm(best)
    assert found.low_percent < best < found.high_percent
    for end in (found.low_percent, found.high_percent):
        assert worst_mm(end) == pytest.approx(1.1 * found.worst_mm, rel=0.02)
    # Rocking goes with the change of the base to first order: half way between its driest and dampest week.
    middle = (year.base_percent.min() + year.base_percent.max()) / 2
    assert best == pytest.approx(middle, abs=0.05)


def test_a_wide_board_rests_as_the_exact_slab(bowl: Bowl, year: MoistureYear) -> None:
    """A board far wider than thick settles when Crank's first term is within half a point."""
    wide = replace(bowl, board=replace(bowl.board, across_mm=1500.0))
    found = wait_after_move(wide, AIR, year, kept="open")
    wood = diffusion_of("hardwood", moisture_percent=float(AIR.mean()))
    half = 18.3 / 2
    L = half * wood.surface_mm_per_h / wood.across_mm2_per_h
    beta = optimize.brentq(lambda b: b * np.sin(b) - L * np.cos(b), 1e-6, np.pi / 2)
    first = 2 * L**2 / (beta**2 * (beta**2 + L**2 + L))
    hours = np.log(first * found.step_points / NEAR_POINTS) * half**2 / (beta**2 * wood.across_mm2_per_h)
    assert found.board_days[1] == pytest.approx(hours / 24, rel=0.03)
    assert found.board_days[0] < found.board_days[1] < found.board_days[2]


def test_a_19_mm_board_rests_as_long_as_workshops_say(bowl: Bowl) -> None:
    """From 13 to 9 percent: between a week and a month.

    At least a week for boards up to an inch: advice in a woodworking magazine (read); about a month for
    13/16 in red oak: a woodworker's own weighing (read in a forum). Common practice, no better source.
    """
    board = replace(bowl.board, thickness_mm=19.0, moisture_percent=13.0)
    air = np.full(8760, 9.0)
    moved = replace(bowl, board=board)
    found = wait_after_move(moved, air, moisture_year(moved, air), kept="open")
    assert found.step_points == pytest.approx(4.0)
    assert 7 < found.board_days[1] < 31


def test_what_is_there_already_need_not_rest(bowl: Bowl) -> None:
    """A move of less than half a point asks for no rest."""
    air = np.full(8760, 8.3)
    found = wait_after_move(bowl, air, moisture_year(bowl, air), kept="open")
    assert found.board_days == (0.0, 0.0, 0.0)
    assert found.bowl_days == (0.0, 0.0, 0.0)


def test_films_slow_the_swing(bowl: Bowl, year: MoistureYear) -> None:
    """Every finish is told; bare wood agrees with the year, paint swings less than varnish than none."""
    found = advise(bowl, AIR, year, kept="open", pith_mm=150.0)
    by_name = {f.name: f for f in found.finishes}
    assert tuple(by_name) == FINISHES
    bare, varnish, paint = (by_name[n] for n in ("none", "varnish", "paint"))
    assert bare.rim_swing_points == pytest.approx(np.ptp(year.rim_percent), rel=1e-6)
    assert bare.rock_mm == pytest.approx(year.base_rock_mm.max(), rel=0.01)
    assert bare.base_swing_points > varnish.base_swing_points > paint.base_swing_points
    assert bare.rim_swing_points > varnish.rim_swing_points > paint.rim_swing_points
    assert bare.rock_mm > paint.rock_mm
