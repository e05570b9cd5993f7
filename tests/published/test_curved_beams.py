"""The strip against closed forms for curved bars and rings.

S. P. Timoshenko, *Strength of Materials* (part I: thin ring under two opposite forces, curved bars;
part II: ring twisted by couples spread round it), and W. C. Young, *Roark's Formulas*, circular rings and
arcs. All from memory, no page seen; the integrals of an arc were worked again by Castigliano's theorem,
with stretch and shear of the centre line beside bending.
"""

import numpy as np
import pytest
from free_strip import bend_under

from fitsim.strip import beam as st

RADIUS = 43.0
BAR = {"width": 5.7, "thickness": 19.05, "E": 9300.0, "G": 610.0, "D": 4.1e6}


def _arc(count, *, span, width, thickness, E, G, D, start=0.0):
    a = start + np.linspace(0, span, count + 1)
    x = np.stack([RADIUS * np.cos(a), RADIUS * np.sin(a), 0 * a], axis=1)
    section = st.straight_section(
        width_mm=np.full(count, width),
        thickness_mm=thickness,
        lean=0.0,
        E_s_MPa=np.full(count, E),
        G_sz_MPa=np.full(count, G),
        G_sn_MPa=np.full(count, 0.7 * G),
        D_Nmm2=np.full(count, D),
    )
    return st.make_strip(position_mm=x, frame=st.frames_in_plane(x), section=section)


def _rigidities():
    w, T, E, G = BAR["width"], BAR["thickness"], BAR["E"], BAR["G"]
    return {
        "EI_n": E * w * T**3 / 12,
        "EI_b": E * T * w**3 / 12,
        "EA": E * w * T,
        "GA_b": 5 / 6 * G * w * T,
        "GA_n": 5 / 6 * 0.7 * G * w * T,
    }


def _tip(strip, force):
    loads = np.zeros_like(strip.position_mm)
    loads[-1] = force
    return bend_under(strip, force_N=loads).position_mm[-1] - strip.position_mm[-1]


def _twists(strip, nodal_wrench):
    """Twists (n, 6) of the nodes under wrenches about the origin, small displacements."""
    rest = st.deformed_shape(strip, np.zeros((len(strip.arc_mm), 6)))
    return st.node_twist(rest, st.deformation_under(strip, rest, nodal_wrench))


def _closed_ring(strip, nodal_wrench):
    """Twists of an open ring whose ends are joined again: the joint's wrench from six equations."""
    joint = np.zeros((6, len(strip.position_mm), 6))
    joint[np.arange(6), -1, np.arange(6)] = 1.0
    unit = np.array([_twists(strip, q)[-1] for q in joint]).T
    wrench = np.array(nodal_wrench)
    wrench[-1] -= np.linalg.solve(unit, _twists(strip, nodal_wrench)[-1])
    return _twists(strip, wrench)


def _moved(strip, twist):
    return twist[:, :3] + np.cross(twist[:, 3:], strip.position_mm)


@pytest.mark.parametrize("span", [4.1, 2 * np.pi])
def test_arc_out_of_its_plane(span):
    """An arc built in at one end lifts at its tip by bending, twist and shear, however few its nodes.

    F R^3 [(a - sin a cos a)/2 / EI + (3 a/2 - 2 sin a + sin a cos a/2) / D] + F R a / GA; a split ring,
    a = 2 pi, lifts by pi F R^3 (1/EI + 3/D) besides the shear.
    """
    k, a, R = _rigidities(), span, RADIUS
    s, c = np.sin(a), np.cos(a)
    bent = (a - s * c) / 2 / k["EI_n"]
    twisted = (3 * a / 2 - 2 * s + s * c / 2) / BAR["D"]
    exact = R**3 * (bent + twisted) + R * a / k["GA_b"]
    if span == 2 * np.pi:
        assert R**3 * (bent + twisted) == pytest.approx(np.pi * R**3 * (1 / k["EI_n"] + 3 / BAR["D"]))
    error = [_tip(_arc(count, span=a, **BAR), [0, 0, 1.0])[2] / exact - 1 for count in (24, 48, 96)]
    assert np.abs(error).max() < 1e-9


@pytest.mark.parametrize("span", [4.1, 2 * np.pi])
def test_arc_in_its_plane(span):
    """An arc built in at one end opens under a force along its tip's tangent, however few its nodes.

    Along: F R^3 (3 a/2 - 2 sin a + sin a cos a/2)/EI and stretch and shear; inward: half of
    (1 - cos a)^2 R^3/EI, and of sin^2 a R (1/GA - 1/EA). A split ring opens by 3 pi F R^3/EI besides (gap
    of a piston ring).
    """
    k, a, R = _rigidities(), span, RADIUS
    s, c = np.sin(a), np.cos(a)
    bent = (3 * a / 2 - 2 * s + s * c / 2) * R**3 / k["EI_b"]
    along = bent + (a + s * c) / 2 * R / k["EA"] + (a - s * c) / 2 * R / k["GA_n"]
    outward = -((1 - c) ** 2) / 2 * R**3 / k["EI_b"] + s**2 / 2 * R * (1 / k["EA"] - 1 / k["GA_n"])
    if span == 2 * np.pi:
        assert bent == pytest.approx(3 * np.pi * R**3 / k["EI_b"])
    tangent, normal = np.array([-s, c, 0.0]), np.array([c, s, 0.0])
    error = []
    for count in (24, 48, 96):
        u = _tip(_arc(count, span=a, **BAR), tangent)
        error.append(u @ tangent / along - 1)
        assert u @ normal == pytest.approx(outward, abs=1e-9 * along)
    assert np.abs(error).max() < 1e-9


def test_ring_under_two_opposite_forces():
    """A thin ring stretches by 0.149 W R^3/EI along two opposite forces and narrows by 0.137 across.

    (pi/4 - 2/pi) and (2/pi - 1/2). A quarter is built in where the ring is narrowest; its other end, where
    half of W pulls, is kept from turning by a moment of W R/pi.
    """
    thin = {**BAR, "width": 0.4, "G": 1e9}
    EI, R, W = thin["E"] * 19.05 * 0.4**3 / 12, RADIUS, 2.6
    error = []
    for count in (6, 12, 24):
        strip = _arc(count, span=np.pi / 2, **thin)
        pull, turn = np.zeros((2, count + 1, 6))
        pull[-1, :3] = [0.0, W / 2, 0.0]  # at (0, R) the pull's line passes through the origin
        turn[-1, 5] = 1.0
        plain, unit = _twists(strip, pull), _twists(strip, turn)
        moment = -plain[-1, 5] / unit[-1, 5]
        tip = _moved(strip, plain + moment * unit)[-1]
        error.append(2 * tip[1] / ((np.pi / 4 - 2 / np.pi) * W * R**3 / EI) - 1)
        assert abs(moment) == pytest.approx(W * R / np.pi, rel=1e-3)
    assert 2 * abs(tip[0]) == pytest.approx((2 / np.pi - 0.5) * W * R**3 / EI, rel=1e-3)
    # What stretches beside the bending is 4e-5.
    assert np.abs(error).max() < 1e-4


def test_a_closed_ring_does_not_know_where_it_was_cut():
    """An open ring joined again stretches by 0.149 W R^3/EI wherever the forces stand to the joint."""
    thin = {**BAR, "width": 0.4, "G": 1e9}
    EI, W, count = thin["E"] * 19.05 * 0.4**3 / 12, 2.6, 48
    for first in (5, 17):
        strip = _arc(count, span=2 * np.pi, start=0.31, **thin)
        opposite = first + count // 2
        out = strip.position_mm[first] / RADIUS
        nodal = np.zeros((count + 1, 6))
        for node, sign in ((first, 1.0), (opposite, -1.0)):
            nodal[node] = st.force_wrench(strip.position_mm[node], sign * W * out)
        u = _moved(strip, _closed_ring(strip, nodal))
        stretch = (u[first] - u[opposite]) @ out
        assert stretch == pytest.approx((np.pi / 4 - 2 / np.pi) * W * RADIUS**3 / EI, rel=1e-3)


def test_ring_turned_inside_out_by_couples_spread_round_it():
    """A closed ring under a twisting couple m per length turns by m R^2/EI everywhere and moves nowhere.

    Timoshenko, twisting of a circular ring: it bends out of its plane by m R and does not twist at all. In
    lumps at the nodes the couples twist the strip between them as well, by order 2: 0.12 percent here.
    """
    count, m = 144, 3.1
    strip = _arc(count, span=2 * np.pi, start=0.7, **BAR)
    nodal = np.zeros((count + 1, 6))
    nodal[1:, 3:] = m * 2 * np.pi * RADIUS / count * strip.frame[1:, :, 1]
    twist = _closed_ring(strip, nodal)
    # The joint holds the root still: take the mean motion of a free ring off before looking.
    twist_per_bend = np.einsum(
        "ni,ni->n", twist[1:, 3:] - twist[1:, 3:].mean(axis=0), strip.frame[1:, :, 1]
    )
    u = _moved(strip, twist)[1:]
    x = strip.position_mm[1:]
    plane = np.linalg.lstsq(np.column_stack([x[:, :2], np.ones(count)]), u[:, 2], rcond=None)[0]
    exact = m * RADIUS**2 / _rigidities()["EI_n"]
    assert twist_per_bend == pytest.approx(np.full(count, exact), rel=3e-3)
    assert (
        np.abs(u[:, 2] - np.column_stack([x[:, :2], np.ones(count)]) @ plane).max() < 1e-6 * RADIUS * exact
    )
