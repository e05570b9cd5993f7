"""A standing bowl as its wood swells: an affine copy, a hoop shrunk on a solid, friction."""

import numpy as np
import pytest
from seasons_bowls import tables

from fitsim.bowl.elastic import open_bowl
from fitsim.bowl.inputs import Bowl
from fitsim.bowlfile.defaults import make_bowl
from fitsim.seasons.moisture_year import at_moistures
from fitsim.seasons.swelling_strip import StandingStrip, as_opened, swell, turn_pull_MPa
from fitsim.strip.results import turn_forces
from fitsim.strip.state import mean_rise_mm


@pytest.fixture(scope="module")
def bowl() -> Bowl:
    """The small bowl, flat-sawn."""
    return make_bowl(tables(board={"grain": "flat-sawn"}))


@pytest.fixture(scope="module")
def opened(bowl: Bowl) -> StandingStrip:
    """Opened at the even 8 percent it was sawn at, harder than it takes: it is to stand through it all."""
    standing = as_opened(bowl, open_bowl(bowl, press_N=120.0, lowering=False))
    assert standing is not None
    return standing


def through(standing: StandingStrip, *moistures: list[float]) -> StandingStrip:
    """The bowl after it has gone through some moistures, base first."""
    for row in moistures:
        found = swell(standing, at_moistures(standing.bowl, np.array(row)))
        assert found.standing is not None
        standing = found.standing
    return standing


def rise_mm(standing: StandingStrip) -> float:
    """Mean rise of the rim."""
    return mean_rise_mm(standing.elastic, standing.state)


def borne_N(standing: StandingStrip) -> np.ndarray:
    """Normal force of each turn's seats."""
    return turn_forces(standing.elastic, standing.state).normal_N


def test_nothing_happens_where_nothing_changes(opened: StandingStrip) -> None:
    """A bowl that keeps its moisture keeps its rise and what its seats bear."""
    same = through(opened, [8.0, 8.0, 8.0, 8.0])
    assert rise_mm(same) == pytest.approx(rise_mm(opened), rel=0.003)
    np.testing.assert_allclose(borne_N(same), borne_N(opened), rtol=0.06)


@pytest.mark.parametrize("change", [-3.0, 4.0])
def test_a_bowl_that_swells_evenly_stays_an_affine_copy(opened: StandingStrip, change: float) -> None:
    """Base and turns alike: the rise grows as the thickness, 0.00126 a point, and nothing pulls."""
    moved = through(opened, [8.0 + change] * 4)
    assert rise_mm(moved) / rise_mm(opened) == pytest.approx(1 + 0.00126 * change, abs=0.002)
    pull = turn_pull_MPa(moved) - turn_pull_MPa(opened)
    np.testing.assert_allclose(pull, 0, atol=0.05)


def test_a_turn_that_dries_is_pulled_and_one_that_swells_is_let_off(
    bowl: Bowl, opened: StandingStrip
) -> None:
    """Drier than the base the first turn bears more and is pulled, less than a hoop shrunk on a solid."""
    dry, damp = (through(opened, [8.0, m, m, m]) for m in (7.6, 8.3))
    assert borne_N(dry)[0] > 1.3 * borne_N(opened)[0]
    assert borne_N(damp)[0] < 0.9 * borne_N(opened)[0]
    pulled, let_off = (float((turn_pull_MPa(s) - turn_pull_MPa(opened))[0]) for s in (dry, damp))
    # Thin hoop on a solid that gives nothing: mean strain 0.4 (C_L + C_T)/2 over the mean of 1/E_s, from
    # the four constants of the board's plane at 12 percent; a drier turn is stiffer by some percent.
    wood = bowl.board.wood
    E_x, E_y, G = wood.E_L_MPa.value, wood.E_T_MPa.value, wood.G_LT_MPa.value
    give = 3 / 8 * (1 / E_x + 1 / E_y) + 1 / 8 * (1 / G - 2 * wood.nu_LT.value / E_x)
    hoop = 0.4 * (wood.swell_L_per_point.value + 0.00248) / 2 / give
    assert 0.02 * hoop < pulled < 1.2 * hoop
    assert let_off < pulled


def test_friction_remembers_the_way(opened: StandingStrip) -> None:
    """Dried and damped again it stands about as high, never higher; its seats bear otherwise."""
    back = through(opened, [8.0, 7.3, 7.3, 7.3], [7.3] * 4, [7.6, 8.0, 8.0, 8.0], [8.0] * 4)
    assert rise_mm(back) == pytest.approx(rise_mm(opened), rel=0.025)
    assert rise_mm(back) < 1.002 * rise_mm(opened)
    apart = np.abs(borne_N(back) - borne_N(opened)) / borne_N(opened)
    assert float(apart.max()) > 0.02


def test_what_does_not_keep_its_rise_does_not_stand() -> None:
    """A bowl that falls through cannot be left standing."""
    wide = make_bowl(tables(cut={"kerf": "2.4 mm"}))
    assert as_opened(wide, open_bowl(wide, lowering=False)) is None
