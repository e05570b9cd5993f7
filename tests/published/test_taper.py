"""Statics of a taper against printed formulas and against free bodies solved as linear systems.

M. Oishi and T. Inami, *Machine Official Collection* (handbook of machine formulas), Industrial
Mechanics, p. 38, read in a transcription: a wedge with two faces of half angle theta is driven with
2 N (mu cos + sin) and pulled with 2 N (mu cos - sin).
F. L. Singer, *Engineering Mechanics*, problem 535, read in a worked solution: a wedge stays in the
log while its full angle is less than twice the friction angle.
"""

import math

import numpy as np
import pytest

from fitsim.bowl.taper_statics import collapse_over_press, friction_angle_rad, friction_used

CASES = [(5.0, 0.4), (8.0, 0.25), (12.0, 0.3), (3.0, 0.55)]


def press_for_squeeze_N(*, squeeze_N: float, tilt_rad: float, friction: float) -> float:
    """Axial press that slides a taper in against a given radial squeeze, R tan(phi + theta).

    Parameters
    ----------
    squeeze_N : float
        Radial force summed round the ring. [N]
    tilt_rad : float
        Bevel theta. [rad]
    friction : float
        Coefficient of friction. [-]

    Returns
    -------
    float
        Press. [N]
    """
    return squeeze_N * math.tan(friction_angle_rad(friction) + tilt_rad)


def press_forces_same_normal_N(*, normal_N: float, tilt_rad: float, friction: float) -> tuple[float, float]:
    """Drive and pull-out force at one and the same normal force on the face.

    Parameters
    ----------
    normal_N : float
        Normal force on the bevel. [N]
    tilt_rad : float
        Bevel theta. [rad]
    friction : float
        Coefficient of friction. [-]

    Returns
    -------
    tuple[float, float]
        Force to drive in and force to pull out; the second is negative when it springs back. [N]
    """
    along, across = friction * math.cos(tilt_rad), math.sin(tilt_rad)
    return normal_N * (along + across), normal_N * (along - across)


def free_body(*, tilt_rad: float, friction: float, sinking: bool) -> tuple[float, float]:
    """Normal and axial force of a piece that pushes outward with 1 N, sliding on its bevel.

    The piece sits inside a ring. Its outer face leans outward going up, so the ring pushes it with N
    along (-cos, sin) and rubs it with mu N along the face (sin, cos): upward while it sinks, downward
    while it is pushed out. x: N_x + rub_x + 1 = 0; z: N_z + rub_z + axial = 0, axial upward.
    """
    c, s = math.cos(tilt_rad), math.sin(tilt_rad)
    rub = friction if sinking else -friction
    system = np.array([[-c + rub * s, 0.0], [s + rub * c, 1.0]])
    normal, axial = np.linalg.solve(system, np.array([-1.0, 0.0]))
    return float(normal), float(axial)


@pytest.mark.parametrize(("tilt_deg", "friction"), CASES)
def test_press_against_the_free_body(tilt_deg: float, friction: float) -> None:
    """The press that slides a piece in against its squeeze is the free body's axial force downward."""
    tilt = math.radians(tilt_deg)
    _, axial = free_body(tilt_rad=tilt, friction=friction, sinking=True)
    assert axial < 0
    found = press_for_squeeze_N(squeeze_N=7.0, tilt_rad=tilt, friction=friction)
    assert found == pytest.approx(-7.0 * axial)


@pytest.mark.parametrize(("tilt_deg", "friction"), CASES)
def test_collapse_against_the_free_body(tilt_deg: float, friction: float) -> None:
    """The same squeeze pushed out from below, over the press: both from the free bodies."""
    tilt = math.radians(tilt_deg)
    _, press = free_body(tilt_rad=tilt, friction=friction, sinking=True)
    _, push = free_body(tilt_rad=tilt, friction=friction, sinking=False)
    found = collapse_over_press(tilt_rad=tilt, friction=friction)
    assert found == pytest.approx(push / -press)


@pytest.mark.parametrize(("tilt_deg", "friction"), CASES)
def test_drive_and_pull_of_a_two_faced_wedge(tilt_deg: float, friction: float) -> None:
    """For one and the same N on each of two faces, the printed formulas are twice the face's own."""
    tilt = math.radians(tilt_deg)
    drive, pull = press_forces_same_normal_N(normal_N=9.0, tilt_rad=tilt, friction=friction)
    printed_drive = 2 * 9.0 * (friction * math.cos(tilt) + math.sin(tilt))
    printed_pull = 2 * 9.0 * (friction * math.cos(tilt) - math.sin(tilt))
    assert (2 * drive, 2 * pull) == pytest.approx((printed_drive, printed_pull))
    normal, press = free_body(tilt_rad=tilt, friction=friction, sinking=True)
    assert drive == pytest.approx(9.0 * -press / normal)


def test_same_normal_force_and_same_squeeze_differ() -> None:
    """Friction 0.4, 5 deg: 0.641 if N stays, 0.598 if the rings' radial squeeze stays."""
    tilt = math.radians(5)
    drive, pull = press_forces_same_normal_N(normal_N=1.0, tilt_rad=tilt, friction=0.4)
    assert pull / drive == pytest.approx(0.641, abs=5e-4)
    assert collapse_over_press(tilt_rad=tilt, friction=0.4) == pytest.approx(0.598, abs=5e-4)


@pytest.mark.parametrize("friction", [0.2, 0.35, 0.55])
def test_a_taper_holds_while_theta_is_less_than_phi(friction: float) -> None:
    """On either side of theta = atan(mu) the push that frees it changes sign, and hold passes 1."""
    phi = friction_angle_rad(friction)
    for tilt, sign in ((phi - 0.01, 1), (phi + 0.01, -1)):
        assert sign * collapse_over_press(tilt_rad=tilt, friction=friction) > 0
        assert sign * (1 - friction_used(slope=math.tan(tilt), friction=friction)) > 0
        assert sign * free_body(tilt_rad=tilt, friction=friction, sinking=False)[1] > 0


def test_without_friction_nothing_holds() -> None:
    """No friction: demand over capacity is infinite, and the piece springs out with the press."""
    assert friction_used(slope=0.1, friction=0.0) == math.inf
    assert collapse_over_press(tilt_rad=0.1, friction=0.0) == pytest.approx(-1)
