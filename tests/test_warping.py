"""Warping along the strip against closed forms: a slow change, a root held plane, sections all alike."""

import numpy as np
import pytest
from alike_sections import alike_stress
from elastic_bowls import PINE_LIKE
from free_warping import warping_mm2

from fitsim.strip.curved_bar import CurvedBar
from fitsim.strip.root import warping_stress
from fitsim.strip.stress import StripWood, strip_field
from fitsim.strip.torsion import torsion_stiffness_Nmm2
from fitsim.strip.warping import (
    _motion,
    curvature_per_mm,
    stress_places,
    warped_stress,
    warped_strip,
)
from fitsim.wood.grain import Orthotropic, strip_compliance

W, T = 5.9, 17.0
ACROSS, UP = np.array([0.8, -0.6, 0.3]), np.array([0.7, 0.9, -0.5])


def _plain(E, G_sz, G_sn, in_plane=(800.0, 800.0, 300.0)):
    """A bar's wood without contraction, arrays (m,)."""
    S = np.zeros((len(G_sz), 6, 6))
    for i, value in enumerate((E, *in_plane, G_sz, G_sn)):
        S[:, i, i] = 1 / np.asarray(value)
    return S


def _bar(compliance, curvature=0.0):
    one = np.ones(len(compliance))
    return CurvedBar(W * one, T, 0 * one, curvature * one, compliance)


def _series(stretch, n, z):
    return warping_mm2(n, z, thickness_mm=T, width_mm=W, stretch=stretch)


def test_a_slow_change_of_the_wood_leaves_the_stress_of_the_free_warping() -> None:
    """Under one torque over wood that changes slowly, stress along the strip is -E d(kappa psi)/ds."""
    E, torque, count, period = 5200.0, 900.0, 240, 700.0
    s = np.linspace(0, period, count + 1)
    middle = (s[1:] + s[:-1]) / 2
    G_sz = 620 + 180 * np.sin(2 * np.pi * middle / period)
    G_sn = np.full(count, 710.0)
    strip = warped_strip(_bar(_plain(E, G_sz, G_sn)), np.diff(s), root_plane=False)
    force = np.zeros((count, 6))
    force[:, 4] = torque
    got = warped_stress(strip, force, stress_places(strip, across=ACROSS, up=UP)).sigma_s_MPa
    D = torsion_stiffness_Nmm2(thickness_mm=T, width_mm=W, G_sz_MPa=G_sz, G_sn_MPa=G_sn)
    n, z = ACROSS * W / 2, UP * T / 2
    psi = np.array([_series(q, n, z) for q in np.sqrt(G_sn / G_sz)])
    exact = -E * np.gradient(torque / D[:, None] * psi, middle, axis=0)
    inside = slice(20, -20)
    scale = np.abs(exact).max()
    assert got[inside] / scale == pytest.approx(exact[inside] / scale, abs=0.03)


@pytest.mark.parametrize("psi_rad", [0.0, np.pi / 2])
def test_a_root_held_plane_twists_as_if_it_began_later(psi_rad: float) -> None:
    """The lost length and the falling stress beside a plane root are those of the closed form.

    That one takes a section that keeps its shape, so the wood is stiff in the section's plane.
    """
    E = {0.0: 11300.0, np.pi / 2: 723.0}[psi_rad]
    G_sz = {0.0: 972.0, np.pi / 2: 316.0}[psi_rad]
    count, torque = 150, 700.0
    arc = np.full(count, 0.5)
    compliance = _plain(E, np.full(count, G_sz), np.full(count, 746.0), in_plane=(1e6, 1e6, 1e6))
    strip = warped_strip(_bar(compliance), arc, root_plane=True)
    force = np.zeros((count, 6))
    force[:, 4] = torque
    closed = warping_stress(
        thickness_mm=T, width_mm=W, E_s_MPa=E, G_sz_MPa=G_sz, G_sn_MPa=746.0, twist_rad_per_mm=1.0
    )
    D = float(torsion_stiffness_Nmm2(thickness_mm=T, width_mm=W, G_sz_MPa=G_sz, G_sn_MPa=746.0))
    turned = float(_motion(strip, force)[:, 4] @ arc)
    assert arc.sum() - turned * D / torque == pytest.approx(closed.lost_length_mm, rel=0.08)
    got = warped_stress(strip, force, stress_places(strip, across=ACROSS, up=UP)).sigma_s_MPa
    away = (np.arange(count) + 0.5) * 0.5
    psi = _series(np.sqrt(746.0 / G_sz), ACROSS * W / 2, UP * T / 2)
    k = int(closed.decay_mm / 0.5)
    exact = -E * psi * torque / D / closed.decay_mm * np.exp(-away[k] / closed.decay_mm)
    assert got[k] == pytest.approx(exact, rel=0.12)


def test_sections_all_alike_warp_alike() -> None:
    """Away from the ends of an even curved bar the stresses are those of the section by itself."""
    R, count = 33.0, 60
    compliance = strip_compliance(
        Orthotropic(*(1000.0,) * 3, *(385.0,) * 3, *(0.3,) * 3),
        ring_angle_rad=0.0,
        psi_rad=np.full(count, 0.4),
    )
    bar = _bar(compliance, 1 / R)
    force = np.tile([0, 0, 2.0, 0, 2.0 * R, 5.0], (count, 1))
    strip = warped_strip(bar, np.full(count, 3.0))
    got = warped_stress(strip, force, stress_places(strip, across=ACROSS, up=UP))
    alone = alike_stress(bar, force, ACROSS, UP)
    for name in ("sigma_s_MPa", "tau_sn_MPa", "tau_sz_MPa", "sigma_z_MPa"):
        expected = getattr(alone, name)[count // 2]
        assert getattr(got, name)[count // 2] == pytest.approx(expected, rel=1e-3, abs=1e-4)


def test_stress_grows_with_the_forces_and_not_with_the_mesh() -> None:
    """Twice the forces give twice the stress; 72 elements a turn give that of 36 within 2 percent."""
    found = []
    for per in (36, 72):
        a = np.arange(per + 1) * 2 * np.pi / per
        r = 31 + a
        x = np.stack([r * np.cos(a), r * np.sin(a), 0 * a], axis=1)
        chord = np.diff(x, axis=0)
        psi = np.arctan2(chord[:, 1], chord[:, 0])
        compliance = strip_compliance(PINE_LIKE, ring_angle_rad=0.2, psi_rad=psi)
        one = np.ones(per)
        bar = CurvedBar(W * one, T, 0.1 * one, curvature_per_mm(x), compliance)
        strip = warped_strip(bar, np.linalg.norm(chord, axis=1))
        force = np.tile([0, 0, 9.0, 100.0, 400.0, -30.0], (per, 1))
        places = stress_places(strip, across=ACROSS, up=UP)
        once, twice = (warped_stress(strip, k * force, places).tau_sz_MPa for k in (1, 2))
        assert twice == pytest.approx(2 * once)
        middle = (np.arange(per) + 0.5) / per
        found.append([np.interp(0.1 + 0.2 * np.arange(4), middle, once[:, i]) for i in range(3)])
    scale = np.abs(found[1]).max()
    assert np.array(found[0]) / scale == pytest.approx(np.array(found[1]) / scale, abs=0.02)


def test_curvature_of_a_circle() -> None:
    """A circle of unequal steps has 1/r everywhere."""
    a = np.cumsum([0.1, 0.11, 0.12, 0.1, 0.09, 0.1])
    x = 21.0 * np.stack([np.cos(a), np.sin(a), 0 * a], axis=1)
    assert curvature_per_mm(x) == pytest.approx(np.full(5, 1 / 21), rel=2e-3)


def test_volumes_are_the_rings() -> None:
    """The wood that a ring's places stand for is section times the length of its middle line (Pappus)."""
    count, R = 24, 19.0
    arc = np.full(count, 2 * np.pi * R / count)
    even = np.full(count, 300.0)
    wood = StripWood(
        bar=_bar(_plain(900.0, even, even), 1 / R),
        element=np.arange(count),
        offset_mm=np.zeros(count),
        length_mm=arc,
        psi_rad=np.zeros(count),
        ring_angle_rad=0.0,
        clock_rad=np.cumsum(arc) / R,
    )
    field = strip_field(wood, (5, 7))
    assert field.area_mm2.shape == (count, 35)
    assert arc @ field.area_mm2.sum(axis=1) == pytest.approx(W * T * 2 * np.pi * R)
    # The moment of the section's wood about its middle line: w^3 T/12 over the radius, by hand.
    n = field.places.across * W / 2
    assert field.area_mm2[7] @ n == pytest.approx(W**3 * T / 12 / R, rel=1e-9)
