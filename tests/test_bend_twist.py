"""Wood off its grain twists as it bends: the beam against a solid bar by finite elements."""

import functools
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from elastic_bowls import PINE_LIKE

from fitsim.strip import beam as st
from fitsim.strip import torsion
from fitsim.wood import grain

LENGTH_MM, THICKNESS_MM, WIDTH_MM = 150.0, 12.0, 7.0
"""Long enough that nine tenths of the bar do not know of its ends."""


def _bar(psi_rad: float) -> tuple[float, float]:
    """Roll and rise of the tip of a straight bar built in at the other end, 1 N up. [rad/N, mm/N]"""
    count = 24
    x = np.zeros((count + 1, 3))
    along = np.linspace(0, LENGTH_MM, count + 1)
    x[:, 0], x[:, 1] = along * np.cos(psi_rad), along * np.sin(psi_rad)
    E = grain.strip_stiffness(
        grain.board_stiffness(PINE_LIKE, ring_angle_rad=0.0), psi_rad=np.full(count, psi_rad)
    )
    width = np.full(count, WIDTH_MM)
    D = torsion.torsion_stiffness_Nmm2(
        thickness_mm=THICKNESS_MM, width_mm=width, G_sz_MPa=E.G_sz_MPa, G_sn_MPa=E.G_twist_MPa
    )
    section = st.straight_section(
        width_mm=width,
        thickness_mm=THICKNESS_MM,
        lean=0.0,
        E_s_MPa=E.E_s_MPa,
        G_sz_MPa=E.G_sz_MPa,
        G_sn_MPa=E.G_sn_MPa,
        D_Nmm2=D,
        twist_per_bend=E.twist_per_bend,
    )
    strip = st.make_strip(position_mm=x, frame=st.frames_in_plane(x), section=section)
    force = np.zeros_like(x)
    force[-1, 2] = 1.0
    flat = st.deformed_shape(strip, np.zeros((count, 6)))
    twist = st.node_twist(flat, st.deformation_under(strip, flat, st.force_wrench(x, force)))[-1]
    rise = (twist[:3] + np.cross(twist[3:], x[-1]))[2]
    return float(twist[3:] @ strip.frame[-1, :, 1]), float(rise)


@dataclass(frozen=True, eq=False)
class _Solid:
    """The same bar as a solid, its axis x, one end face held; mean motions of the other one."""

    basis: Any
    C: np.ndarray
    solve: Any
    rise: np.ndarray
    twist_per_bend: np.ndarray


def _strain(gradient):
    s = gradient
    return [s[0, 0], s[1, 1], s[2, 2], 2 * s[1, 2], 2 * s[0, 2], 2 * s[0, 1]]


@functools.cache
def _solid(psi_rad: float) -> _Solid:
    skfem = pytest.importorskip("skfem")
    from scipy.sparse.linalg import splu
    from skfem.helpers import sym_grad

    mesh = skfem.MeshHex.init_tensor(
        np.linspace(0, LENGTH_MM, 19),
        np.linspace(-WIDTH_MM / 2, WIDTH_MM / 2, 3),
        np.linspace(-THICKNESS_MM / 2, THICKNESS_MM / 2, 5),
    )
    element = skfem.ElementVector(skfem.ElementHex2())
    basis = skfem.Basis(mesh, element, intorder=4)
    C = _turned_stiffness(psi_rad)
    pairs = np.argwhere(np.abs(C) > 1e-12 * np.abs(C).max()).tolist()

    @skfem.BilinearForm
    def energy(u, v, _):
        U, V = _strain(sym_grad(u)), _strain(sym_grad(v))
        return sum(C[i, j] * U[j] * V[i] for i, j in pairs)

    stiff = energy.assemble(basis).tocsc()
    tip = skfem.FacetBasis(
        mesh, element, facets=mesh.facets_satisfying(lambda x: x[0] > LENGTH_MM - 1e-9), intorder=4
    )
    area = WIDTH_MM * THICKNESS_MM
    polar = area * (WIDTH_MM**2 + THICKNESS_MM**2) / 12
    free = basis.complement_dofs(basis.get_dofs(lambda x: x[0] < 1e-9))
    factors = splu(stiff[free][:, free])

    def solve(load: np.ndarray) -> np.ndarray:
        u = np.zeros(stiff.shape[0])
        u[free] = factors.solve(load[free])
        return u

    return _Solid(
        basis,
        C,
        solve,
        skfem.LinearForm(lambda v, _: v[2] / area).assemble(tip),
        # Mean rotation about x, counter-clockwise seen from the tip; as a load, a torque of 1 N mm.
        skfem.LinearForm(lambda v, x: (x.x[1] * v[2] - x.x[2] * v[1]) / polar).assemble(tip),
    )


def _turned_stiffness(psi_rad: float) -> np.ndarray:
    """Stiffness (6, 6) of xx yy zz yz xz xy, the bar's x lying at psi from the grain."""
    w = PINE_LIKE
    S = np.zeros((6, 6))
    S[0, 0], S[1, 1], S[2, 2] = 1 / w.E_L_MPa, 1 / w.E_T_MPa, 1 / w.E_R_MPa
    S[0, 1] = S[1, 0] = -w.nu_LT / w.E_L_MPa
    S[0, 2] = S[2, 0] = -w.nu_LR / w.E_L_MPa
    S[1, 2] = S[2, 1] = -w.nu_RT / w.E_R_MPa
    S[3, 3], S[4, 4], S[5, 5] = 1 / w.G_RT_MPa, 1 / w.G_LR_MPa, 1 / w.G_LT_MPa
    pairs = [(0, 0), (1, 1), (2, 2), (1, 2), (0, 2), (0, 1)]
    full = np.zeros((3, 3, 3, 3))
    for a, C_row in enumerate(np.linalg.inv(S)):
        for b, value in enumerate(C_row):
            (i, j), (k, m) = pairs[a], pairs[b]
            full[i, j, k, m] = full[j, i, k, m] = full[i, j, m, k] = full[j, i, m, k] = value
    c, s = np.cos(psi_rad), np.sin(psi_rad)
    R = np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])  # from grain axes to the bar's
    full = np.einsum("ai,bj,ck,dl,ijkl->abcd", R, R, R, R, full)
    return np.array([[full[i, j, k, m] for k, m in pairs] for i, j in pairs])


@pytest.mark.parametrize("psi_deg", [30.0, -55.0])
def test_a_bar_off_its_grain_rolls_as_the_solid_does(psi_deg):
    """Sense and size of roll and rise agree with a solid bar, its end face held, within 5 and 3 percent."""
    twist_per_bend, rise = _bar(np.radians(psi_deg))
    solid = _solid(np.radians(psi_deg))
    moved = solid.solve(solid.rise)
    assert twist_per_bend == pytest.approx(float(solid.twist_per_bend @ moved), rel=0.05)
    assert rise == pytest.approx(float(solid.rise @ moved), rel=0.03)


@pytest.mark.parametrize("psi_deg", [30.0, -55.0])
def test_twist_off_the_grain_brings_stretch_with_it(psi_deg):
    """In a twisted solid the stress along the bar follows from its shear, on the top face and below it.

    sigma = 2 roll tau_sn less the bending stress that the twist brings, z roll M_t/I.
    """
    from skfem.helpers import sym_grad

    psi = np.radians(psi_deg)
    solid = _solid(psi)
    field = solid.basis.interpolate(solid.solve(1000.0 * solid.twist_per_bend))
    stress = np.einsum("ij,j...->i...", solid.C, np.array(_strain(sym_grad(field))))
    x, y, z = np.asarray(solid.basis.global_coordinates())
    middle = (np.abs(x - LENGTH_MM / 2) < 20) & (np.abs(y) < 1.0) & (np.abs(z) > 0.3 * THICKNESS_MM)
    assert middle.sum() > 20
    E = grain.strip_stiffness(grain.board_stiffness(PINE_LIKE, ring_angle_rad=0.0), psi_rad=np.array([psi]))
    twist_per_bend, I_n = float(E.twist_per_bend[0]), WIDTH_MM * THICKNESS_MM**3 / 12
    # The strip's normal n points to -y: its shear with s has the other sign.
    wanted = 2 * twist_per_bend * -stress[5] - twist_per_bend * 1000.0 * z / I_n
    scale = np.abs(wanted[middle]).max()
    assert stress[0][middle] == pytest.approx(wanted[middle], abs=0.06 * scale)


def test_along_and_across_the_grain_nothing_rolls():
    """Straight along and straight across there is no coupling."""
    E = grain.strip_stiffness(
        grain.board_stiffness(PINE_LIKE, ring_angle_rad=0.3), psi_rad=np.array([0.0, np.pi / 2])
    )
    assert E.twist_per_bend == pytest.approx([0, 0], abs=1e-12)
    assert E.G_twist_MPa == pytest.approx(E.G_sn_MPa)
