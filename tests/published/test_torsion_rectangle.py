"""Twist of a rectangle against printed constants and a finite-element solution.

``torsion_rectangle.csv`` beside this file: stiffness beta = D/(G a b^3) and stress factor
alpha = M/(tau a b^2) by a/b; each row names its sources.
"""

import csv
from pathlib import Path

import numpy as np
import pytest
from twisted_rectangle import stress_per_twist

from fitsim.strip.torsion import torsion_stiffness_Nmm2

with (Path(__file__).parent / "torsion_rectangle.csv").open(encoding="utf8", newline="") as _file:
    ROWS = list(csv.DictReader(_file))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["long_over_short"])
@pytest.mark.parametrize("tall", [True, False])
def test_isotropic_rectangles(row: dict[str, str], tall: bool) -> None:
    """Stiffness and largest stress of every printed ratio, the long side either way up."""
    ratio, short, G = float(row["long_over_short"]), 7.0, 800.0
    sides = {"thickness_mm": ratio * short, "width_mm": short}
    if not tall:
        sides = {"thickness_mm": short, "width_mm": ratio * short}
    moduli = {"G_sz_MPa": G, "G_sn_MPa": G}
    D = float(torsion_stiffness_Nmm2(**sides, **moduli))
    beta = D / (G * ratio * short**4)
    assert beta == pytest.approx(float(row["stiffness_series"]), abs=1e-6)
    assert beta == pytest.approx(float(row["stiffness_polynomial"]), rel=5e-3)
    stress = stress_per_twist(**sides, **moduli)
    largest = float(stress.tall_face if tall else stress.flat_face)  # the middle of the long sides
    alpha = D / (largest * ratio * short**3)
    assert alpha == pytest.approx(float(row["stress_series"]), abs=2e-6)
    if row["stiffness_table"]:
        assert beta == pytest.approx(float(row["stiffness_table"]), abs=6e-4)
        assert alpha == pytest.approx(float(row["stress_table"]), abs=6e-4)


def test_orthotropic_stiffness_against_finite_differences() -> None:
    """T 20, w 8 mm, G_sz 1000, G_sn 600 MPa: 2.3075e6 N mm^2; by finite differences 2.3073e6."""
    section = {"thickness_mm": 20.0, "width_mm": 8.0, "G_sz_MPa": 1000.0, "G_sn_MPa": 600.0}
    assert float(torsion_stiffness_Nmm2(**section)) == pytest.approx(2.3075e6, abs=50)
    assert float(torsion_stiffness_Nmm2(**section)) == pytest.approx(2.3073e6, rel=2e-4)


def test_orthotropic_stresses_against_finite_differences() -> None:
    """T 6, w 8 mm, G_sz 316, G_sn 745 MPa: 1.557e5 N mm^2, 1872 and 2717 MPa mm, within 0.1 percent."""
    section = {"thickness_mm": 6.0, "width_mm": 8.0, "G_sz_MPa": 316.0, "G_sn_MPa": 745.0}
    stress = stress_per_twist(**section)
    assert float(torsion_stiffness_Nmm2(**section)) == pytest.approx(1.557e5, rel=1e-3)
    assert float(stress.tall_face) == pytest.approx(1872, rel=1e-3)
    assert float(stress.flat_face) == pytest.approx(2717, rel=1e-3)


def finite_elements(
    *, thickness_mm: float, width_mm: float, G_sz_MPa: float, G_sn_MPa: float
) -> tuple[float, float, float]:
    """Stiffness and both stresses for unit twist from Prandtl's stress function.

    tau_sz = -d phi/dn, tau_sn = d phi/dz, phi = 0 on the outline and
    (1/G_sz) phi_nn + (1/G_sn) phi_zz = -2; the torque is twice the volume under phi.
    """
    from skfem import Basis, BilinearForm, ElementQuad2, LinearForm, MeshQuad, condense, solve

    n, z = (np.linspace(-side / 2, side / 2, 31) for side in (width_mm, thickness_mm))
    basis = Basis(MeshQuad.init_tensor(n, z), ElementQuad2())

    @BilinearForm
    def stretch(u, v, _):  # type: ignore[no-untyped-def]
        return u.grad[0] * v.grad[0] / G_sz_MPa + u.grad[1] * v.grad[1] / G_sn_MPa

    @LinearForm
    def load(v, _):  # type: ignore[no-untyped-def]
        return 2.0 * v

    right = load.assemble(basis)
    phi = solve(*condense(stretch.assemble(basis), right, D=basis.get_dofs().flatten()))
    step = 1e-3
    near = np.array([[width_mm / 2 - step, 0.0], [0.0, thickness_mm / 2 - step]])
    slope = basis.probes(near) @ phi / step  # phi is zero on the outline itself
    return float(phi @ right), float(slope[0]), float(slope[1])


def test_orthotropic_section_against_finite_elements() -> None:
    """T 13, w 7 mm, G_sz 900, G_sn 420 MPa: all three numbers within 0.2 percent."""
    section = {"thickness_mm": 13.0, "width_mm": 7.0, "G_sz_MPa": 900.0, "G_sn_MPa": 420.0}
    D, tall, flat = finite_elements(**section)
    stress = stress_per_twist(**section)
    assert float(torsion_stiffness_Nmm2(**section)) == pytest.approx(D, rel=2e-3)
    assert float(stress.tall_face) == pytest.approx(tall, rel=2e-3)
    assert float(stress.flat_face) == pytest.approx(flat, rel=2e-3)
