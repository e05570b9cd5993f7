"""Stress along the strip against statics and textbook bending, twist and shear."""

import numpy as np
import pytest
from elastic_bowls import bowl, strip_and_base

from fitsim import strip as st
from fitsim.press import press
from fitsim.strength import GrainStrength
from fitsim.stress import SectionForces, StripWood, _bending_MPa, section_forces, strip_stress
from fitsim.torsion import face_stress_per_twist, stress_per_twist

STRONG = GrainStrength(9.0, 2.9, 3.1, 70.0, 0.14, 0.13, 0.25, 0.16)


def _loaded(strip: st.ElasticStrip, force: np.ndarray) -> SectionForces:
    flat = st.deformed_shape(strip, np.zeros((len(strip.arc_mm), 6)))
    eps = st.deformation_under(strip, flat, st.force_wrench(flat.position_mm, force))
    return section_forces(strip, flat, eps)


def test_sections_balance_the_load_beyond_them() -> None:
    """At every section the moment is the lever of the tip force from there, the force is the tip's."""
    strip, *_ = strip_and_base(turns=1.3, per_turn=20, tilt_rad=0.11, kerf_mm=0.9)
    force = np.zeros_like(strip.position_mm)
    force[-1] = [0.3, -0.8, 1.7]
    got = _loaded(strip, force)
    x, R = strip.position_mm[got.node], strip.frame[got.node]
    moment = np.cross(strip.position_mm[-1] - x, force[-1])
    f = np.einsum("kji,j->ki", R, force[-1])
    m = np.einsum("kji,kj->ki", R, moment)
    assert np.stack([got.shear_n_N, got.stretch_N, got.shear_b_N], axis=1) == pytest.approx(f, abs=1e-9)
    found = np.stack([got.bend_n_Nmm, got.twist_Nmm, got.bend_b_Nmm], axis=1)
    assert found == pytest.approx(m, abs=1e-7)


def test_bending_stress_carries_its_own_moments() -> None:
    """Integrated over the leaning section, the stress gives back stretch and both moments."""
    w, T, lean = 6.3, 17.0, 0.17
    wood = StripWood(
        np.array([w]), T, np.array([lean]), np.zeros(1), 0.0, *(np.ones(1),) * 2, np.zeros(1), np.zeros(1)
    )
    forces = SectionForces(np.array([0]), *(np.array([v]) for v in (0.0, 21.0, 0.0, 340.0, 0.0, -95.0)))
    count = 400
    z, e = ((np.arange(count) + 0.5) / count - 0.5 for _ in range(2))
    Z, N = np.meshgrid(z * T, e * w, indexing="ij")
    sigma = _bending_MPa(forces, wood, N + lean * Z, Z)
    area = w * T / count**2
    assert float(sigma.sum() * area) == pytest.approx(21.0)
    # r x (sigma t) with n x t = b: about n it is -z sigma, about b it is n sigma.
    assert float((-Z * sigma).sum() * area) == pytest.approx(340.0, rel=1e-4)
    assert float(((N + lean * Z) * sigma).sum() * area) == pytest.approx(-95.0, rel=1e-4)


@pytest.mark.parametrize(
    ("T", "w", "G_sz", "G_sn"), [(6, 8, 316, 745), (19, 5.7, 316, 745), (4, 20, 900, 300)]
)
def test_stress_at_the_middle_of_a_face_is_the_known_one(
    T: float, w: float, G_sz: float, G_sn: float
) -> None:
    """At share 0 the series off the middle gives the middle's closed sum; at the edge nothing is left."""
    section = {
        "thickness_mm": np.array([T]),
        "width_mm": np.array([w]),
        "G_sz_MPa": np.array([G_sz]),
        "G_sn_MPa": np.array([G_sn]),
    }
    middle, edge = (face_stress_per_twist(**section, share=s) for s in (0.0, 1.0))
    known = stress_per_twist(**section)
    assert middle.tall_face == pytest.approx(known.tall_face, rel=2e-4)
    assert middle.flat_face == pytest.approx(known.flat_face, rel=2e-4)
    assert abs(float(edge.tall_face[0])) < 0.04 * float(known.tall_face[0])
    assert float(edge.flat_face[0]) == pytest.approx(0.0, abs=1e-6)


def test_stress_off_the_middle_solves_the_twist_problem() -> None:
    """Half way along each face: finite differences of Prandtl's equation agree within 0.5 percent."""
    T, w, G_sz, G_sn = 11.0, 7.0, 420.0, 760.0
    exact = face_stress_per_twist(
        thickness_mm=np.array([T]),
        width_mm=np.array([w]),
        G_sz_MPa=np.array([G_sz]),
        G_sn_MPa=np.array([G_sn]),
        share=0.5,
    )
    tall, flat = _prandtl(T, w, G_sz, G_sn, 96)
    assert float(exact.tall_face[0]) == pytest.approx(tall, rel=5e-3)
    assert float(exact.flat_face[0]) == pytest.approx(flat, rel=5e-3)


def _prandtl(T: float, w: float, G_sz: float, G_sn: float, cells: int) -> tuple[float, float]:
    """Face stresses at the quarter points: phi_nn/G_sz + phi_zz/G_sn = -2, solved by sine transform."""
    from scipy.fft import dstn, idstn

    n, z = w / cells, T / cells
    k = np.arange(1, cells)
    lam = 2 - 2 * np.cos(np.pi * k / cells)
    phi = idstn(
        dstn(np.full((cells - 1, cells - 1), 2.0), type=1)
        / (lam[:, None] / (G_sz * n**2) + lam[None, :] / (G_sn * z**2)),
        type=1,
    )
    quarter = 3 * cells // 4 - 1
    # One-sided second-order derivative at the faces, where phi is zero.
    tall = abs((4 * phi[-1, quarter] - phi[-2, quarter]) / (2 * n))
    flat = abs((4 * phi[quarter, -1] - phi[quarter, -2]) / (2 * z))
    return float(tall), float(flat)


def _wood(pressed: st.ElasticStrip, T: float, tilt: float, kerf: float, pitch: float) -> StripWood:
    count = len(pressed.position_mm)
    tangent = pressed.frame[:, :, 1]
    x = pressed.position_mm
    return StripWood(
        width_mm=np.full(count, pitch - kerf / np.cos(tilt)),
        thickness_mm=T,
        lean=np.full(count, np.tan(tilt)),
        psi_rad=np.arctan2(tangent[:, 1], tangent[:, 0]),
        ring_angle_rad=0.0,
        G_sz_MPa=np.full(count, 500.0),
        G_sn_MPa=np.full(count, 700.0),
        roll=np.full(count, 0.2),
        clock_rad=np.unwrap(np.arctan2(x[:, 1], x[:, 0])),
    )


def test_turning_the_grain_with_the_pattern_changes_nothing() -> None:
    """Root at 20 deg with the grain at 20 deg is the bowl with both at 0, stress by stress."""
    found = []
    for turn in (0.0, 0.35):
        b = bowl(turns=2, per_turn=18, friction=0.35, start_rad=turn, grain_rad=turn)
        wood = _wood(b.strip, 19.05, np.radians(5), 0.64, 6.35)
        turned = StripWood(
            **{**vars(wood), "psi_rad": wood.psi_rad - turn, "clock_rad": wood.clock_rad - turn}
        )
        found.append(strip_stress(b, press(b, 25.0)[-1], turned, STRONG))
    assert found[1].ratio == pytest.approx(found[0].ratio, rel=1e-4)
    assert found[1].chance == pytest.approx(found[0].chance, rel=1e-3)
    assert found[1].worst.turn == found[0].worst.turn


def test_the_whole_strip_is_likelier_to_split_than_its_worst_place() -> None:
    """Chance of the worst place <= chance of the strip <= their sum over half turns."""
    b = bowl(turns=2, per_turn=18, friction=0.35)
    wood = _wood(b.strip, 19.05, np.radians(5), 0.64, 6.35)
    weak = GrainStrength(14.0, 5.0, 5.4, 40.0, 0.14, 0.13, 0.25, 0.16)
    got = strip_stress(b, press(b, 60.0)[-1], wood, weak)
    assert got.worst.chance <= got.chance <= 5 * got.worst.chance
    assert 0 < got.chance < 1
    assert got.ratio.max() >= got.worst.ratio * (1 - 1e-12)
