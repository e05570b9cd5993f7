"""The section of a curved bar against closed forms, finite elements and its own balance."""

import numpy as np
import pytest
from alike_sections import alike_stress
from elastic_bowls import PINE_LIKE, even
from twisted_rectangle import stress_per_twist

from fitsim.errors import OutsideModelError
from fitsim.strip.curved_bar import AMPLITUDES, CurvedBar
from fitsim.strip.section_energy import energy_of_sections, make_section_energy
from fitsim.strip.torsion import torsion_stiffness_Nmm2
from fitsim.wood.grain import Orthotropic, board_stiffness, strip_compliance, strip_stiffness


def _bar(*, width, thickness, radius=np.inf, tilt_rad=0.0, wood=None, psi_rad=0.0, ring_rad=0.0):
    return CurvedBar(
        width_mm=np.array([width]),
        thickness_mm=thickness,
        lean=np.array([np.tan(tilt_rad)]),
        curvature_per_mm=np.array([1 / radius]),
        compliance_per_MPa=strip_compliance(
            even() if wood is None else wood, ring_angle_rad=ring_rad, psi_rad=np.array([psi_rad])
        ),
        flat=width > thickness,
    )


def _stress(bar, force, *places):
    across, up = np.array(places).T
    return alike_stress(bar, np.array([force], dtype=float), across, up)


@pytest.mark.parametrize("radius", [17.0, 44.0])
def test_bent_in_its_plane_it_is_winklers_bar(radius: float) -> None:
    """Without contraction bending in the plane is M (r - r_n)/(A e r), r_n = w/ln(r_o/r_i), e = R - r_n."""
    w, T, M = 6.3, 17.0, 420.0
    inner, outer = radius - w / 2, radius + w / 2
    neutral = w / np.log(outer / inner)
    bar = _bar(width=w, thickness=T, radius=radius, wood=even(nu=0.0))
    got = _stress(bar, [0, 0, 0, 0, 0, M], (-1, 0.3), (1, -0.6))
    exact = [M * (r - neutral) / (w * T * (radius - neutral) * r) for r in (inner, outer)]
    assert got.sigma_s_MPa[0] == pytest.approx(exact, rel=2e-3)


def _ring_pulled(w, T, R, G_sz, G_sn):
    """Shears at the middles of the faces of a ring under unit force along its axis: Goehner's equation.

    Balance along the ring is met by r^2 t_sn = d phi/dz, r^2 t_sz = -d phi/dr, phi zero on the outline. The
    shears come from one displacement along the ring and a lift that grows evenly round it, so
    d/dr (phi_r/(G_sz r^3)) + d/dz (phi_z/(G_sn r^3)) = const/r^3; scaled to the force afterwards.
    """
    from skfem import Basis, BilinearForm, ElementQuad2, LinearForm, MeshQuad, condense, solve

    r, z = R + np.linspace(-w / 2, w / 2, 25), np.linspace(-T / 2, T / 2, 49)
    basis = Basis(MeshQuad.init_tensor(r, z), ElementQuad2())

    @BilinearForm
    def stretch(u, v, at):
        return (u.grad[0] * v.grad[0] / G_sz + u.grad[1] * v.grad[1] / G_sn) / at.x[0] ** 3

    @LinearForm
    def load(v, at):
        return v / at.x[0] ** 3

    phi = solve(*condense(stretch.assemble(basis), load.assemble(basis), D=basis.get_dofs().flatten()))

    @LinearForm
    def lift(v, at):  # force along the axis: integral of t_sz = -phi_r/r^2
        return -v.grad[0] / at.x[0] ** 2

    force = float(lift.assemble(basis) @ phi)
    near = 1e-3
    at = np.array([[R - w / 2 + near, R + w / 2 - near, R], [0, 0, T / 2 - near]])
    slope = basis.probes(at) @ phi / near
    inner, outer = -slope[0] / (R - w / 2) ** 2, slope[1] / (R + w / 2) ** 2
    return np.array([inner, outer, -slope[2] / R**2]) / force


@pytest.mark.parametrize(("R", "G_sz", "G_sn"), [(31.0, 385.0, 385.0), (19.0, 310.0, 740.0)])
def test_ring_pulled_along_its_axis(R: float, G_sz: float, G_sn: float) -> None:
    """A helical spring of rectangular wire: the three face shears as by finite elements, in 1.5 percent."""
    w, T = 5.7, 19.05
    # E and the other constants have no part in it.
    wood = Orthotropic(900.0, 900.0, 900.0, G_sz, G_sn, 300.0, 0.0, 0.0, 0.0)
    bar = _bar(width=w, thickness=T, radius=R, wood=wood)
    got = _stress(bar, [0, 0, 1.0, 0, R, 0], (-1, 0), (1, 0), (0, 1))
    found = np.array([*got.tau_sz_MPa[0, :2], got.tau_sn_MPa[0, 2]])
    assert found == pytest.approx(_ring_pulled(w, T, R, G_sz, G_sn), rel=1.5e-2)


@pytest.mark.parametrize(("T", "w"), [(19.05, 5.7), (25.0, 5.0), (6.0, 8.0), (19.0, 12.0)])
def test_straight_it_is_saint_venants_bar(T: float, w: float) -> None:
    """Without curvature the peaks of twist are those of the series, the shear's 3/2 of the mean."""
    stiff = strip_stiffness(board_stiffness(PINE_LIKE, ring_angle_rad=0.0), psi_rad=np.array([np.pi / 2]))
    G = {"G_sz_MPa": stiff.G_sz_MPa, "G_sn_MPa": stiff.G_sn_MPa}
    D = torsion_stiffness_Nmm2(thickness_mm=T, width_mm=w, **G)
    known = stress_per_twist(thickness_mm=T, width_mm=w, **G)
    bar = _bar(width=w, thickness=T, wood=PINE_LIKE, psi_rad=np.pi / 2)
    twisted = _stress(bar, [0, 0, 0, 0, float(D[0]), 0], (1, 0), (0, 1))
    assert -twisted.tau_sz_MPa[0, 0] == pytest.approx(float(known.tall_face[0]), rel=0.011)
    assert twisted.tau_sn_MPa[0, 1] == pytest.approx(float(known.flat_face[0]), rel=0.011)
    sheared = _stress(bar, [0, 0, 37.0, 0, 0, 0], (1, 0), (-1, 0))
    assert sheared.tau_sz_MPa[0] == pytest.approx(1.5 * 37.0 / (w * T), rel=1e-3)


@pytest.mark.parametrize("ring_rad", [0.0, 0.5])
def test_stresses_carry_the_section_forces(ring_rad: float) -> None:
    """Integrated over a leaning, curved, off-grain section, the stresses give back all six forces."""
    w, T, tilt = 6.3, 17.0, 0.14
    bar = _bar(
        width=w, thickness=T, radius=29.0, tilt_rad=tilt, wood=PINE_LIKE, psi_rad=0.9, ring_rad=ring_rad
    )
    force = [3.0, -5.0, 14.0, 130.0, 410.0, -70.0]
    x, wx = np.polynomial.legendre.leggauss(8)
    y, wy = np.polynomial.legendre.leggauss(10)
    X, Y = (a.ravel() for a in np.meshgrid(x, y, indexing="ij"))
    dA = np.outer(wx, wy).ravel() * w * T / 4
    got = alike_stress(bar, np.array([force]), X, Y)
    z = Y * T / 2
    n = X * w / 2 + np.tan(tilt) * z
    s, sn, sz = got.sigma_s_MPa[0], got.tau_sn_MPa[0], got.tau_sz_MPa[0]
    # (n, 0, z) x (sn, s, sz) with n x t = b.
    parts = [sn, s, sz, -z * s, z * sn - n * sz, n * s]
    assert [float(part @ dA) for part in parts] == pytest.approx(force, rel=1e-6)


def test_a_section_cannot_reach_the_centre_of_its_turn() -> None:
    """A bar whose section reaches the centre of its turn is refused in one line."""
    with pytest.raises(OutsideModelError, match="centre of its turn"):
        _bar(width=9.0, thickness=12.0, radius=4.0)


@pytest.mark.parametrize(("width", "thickness"), [(5.7, 19.05), (9.0, 7.0)])
def test_no_motion_is_counted_twice(width: float, thickness: float) -> None:
    """The energy of every motion of tall and of flat sections is above zero: no two motions are one."""
    bar = _bar(width=width, thickness=thickness, radius=31.0, tilt_rad=0.1, wood=PINE_LIKE, psi_rad=0.7)
    own = 6 + AMPLITUDES  # the slopes of the amplitudes are no motions of their own
    form = energy_of_sections(make_section_energy(bar), 0, 1)[0, :own, :own]
    scale = 1 / np.sqrt(np.diag(form))
    assert np.linalg.eigvalsh(form * np.outer(scale, scale)).min() > 1e-9
