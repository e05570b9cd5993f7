"""Stress along the strip against statics and textbook bending, twist and shear."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from elastic_bowls import PINE_LIKE, bowl, strip_and_base

from fitsim import grain, stress
from fitsim import strip as st
from fitsim.press import press
from fitsim.strength import GrainStrength
from fitsim.stress import (
    SectionForces,
    StripStresses,
    StripWood,
    _bending_MPa,
    section_forces,
    strip_stress,
)
from fitsim.torsion import (
    SectionPlaces,
    face_stress_per_twist,
    section_places,
    section_stress_per_twist,
    stress_per_twist,
    torsion_stiffness_Nmm2,
)
from fitsim.weakestlink import beam_volume_mm3

STRONG = GrainStrength(9.0, 2.9, 3.1, 70.0, 0.14, 0.14, 0.25, 0.16)


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
    sigma = _bending_MPa(forces, wood, (N + lean * Z).reshape(1, -1), Z.ravel()).reshape(Z.shape)
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


def test_the_whole_strip_is_likelier_to_split_than_a_half_turn_of_it() -> None:
    """Chance of the half turn about the worst place <= that of the strip; modes add as independent."""
    b = bowl(turns=2, per_turn=18, friction=0.35)
    wood = _wood(b.strip, 19.05, np.radians(5), 0.64, 6.35)
    weak = GrainStrength(14.0, 5.0, 5.4, 40.0, 0.14, 0.14, 0.25, 0.16)
    got = strip_stress(b, press(b, 60.0)[-1], wood, weak)
    assert 0 < got.worst.chance <= got.chance < 1
    assert got.chance == pytest.approx(1 - np.prod([1 - p for p in got.chances.values()]))
    assert got.ratio.max() >= got.worst.ratio * (1 - 1e-12)
    assert got.worst.mode == max(got.chances, key=lambda mode: got.chances[mode])


def _tip_loaded(per_turn: int, force_N: tuple[float, float, float]) -> tuple[Any, Any, StripWood]:
    strip, *_ = strip_and_base(turns=1.5, per_turn=per_turn, tilt_rad=0.11, kerf_mm=0.9)
    load = np.zeros_like(strip.position_mm)
    load[-1] = force_N
    flat = st.deformed_shape(strip, np.zeros((len(strip.arc_mm), 6)))
    deformed = st.deformation_under(strip, flat, st.force_wrench(flat.position_mm, load))
    turn = (np.arange(len(strip.arc_mm))) // per_turn + 1
    wood = _wood(strip, 19.05, 0.11, 0.9, 6.35)
    psi = wood.psi_rad
    soft = grain.strip_stiffness(grain.board_stiffness(PINE_LIKE, ring_angle_rad=0.0), psi_rad=psi)
    wood = replace(wood, G_sz_MPa=soft.G_sz_MPa, G_sn_MPa=soft.G_twist_MPa, roll=soft.roll)
    return SimpleNamespace(strip=strip, turn=turn), SimpleNamespace(shape=flat, deformation=deformed), wood


@pytest.mark.parametrize("shape", [5.0, 6.0, 10.0])
def test_refining_the_section_or_the_elements_hardly_moves_the_chance(shape: float) -> None:
    """Four times the places, or each element split into two and three: under 5 percent each."""
    strength = replace(STRONG, shape=shape)
    found = {}
    for per_turn in (36, 72, 108):
        b, state, wood = _tip_loaded(per_turn, (1.0, -2.0, 9.0))
        found[per_turn] = strip_stress(b, state, wood, strength).split.chances
    for finer in (72, 108):
        assert found[finer][0] == pytest.approx(found[36][0], rel=0.03)
        assert found[finer][2] == pytest.approx(found[36][2], rel=0.05)
    b, state, wood = _tip_loaded(36, (1.0, -2.0, 9.0))
    fine = strip_stress(b, state, wood, strength, places=(21, 33)).split.chances
    assert fine[0] == pytest.approx(found[36][0], rel=0.03)


def test_a_straight_bent_bar_has_the_beam_formulas_volume() -> None:
    """A bar across the grain bent by a load at its tip: risk (s/f)^m b h L/(2 (m + 1)^2)/V_ref, twice."""
    n, L, w, T, force = 40, 90.0, 6.0, 11.0, 7.0
    x = np.zeros((n + 1, 3))
    x[:, 1] = np.linspace(0, L, n + 1)  # the tangent across the grain, along y
    frame = np.broadcast_to(np.array([[1.0, 0, 0], [0, 1.0, 0], [0, 0, 1.0]]), (n + 1, 3, 3)).copy()
    even = np.ones(n)
    section = st.straight_section(
        width_mm=w * even, thickness_mm=T, lean=0.0, E_s_MPa=700 * even, G_sz_MPa=300 * even,
        G_sn_MPa=700 * even, D_Nmm2=1e6 * even, roll=None,
    )  # fmt: skip
    strip = st.make_strip(position_mm=x, frame=frame, section=section)
    load = np.zeros_like(x)
    load[-1, 2] = force
    flat = st.deformed_shape(strip, np.zeros((n, 6)))
    deformed = st.deformation_under(strip, flat, st.force_wrench(flat.position_mm, load))
    nodes = np.ones(n + 1)
    wood = StripWood(
        w * nodes, T, 0 * nodes, np.pi / 2 * nodes, 0.0, 300 * nodes, 700 * nodes, 0 * nodes, 0 * nodes
    )
    # So strong in shear that only tension counts.
    strength = replace(STRONG, shear_along_MPa=1e4, rolling_shear_MPa=1e4)
    got = strip_stress(
        SimpleNamespace(strip=strip, turn=np.ones(n, dtype=int)),
        SimpleNamespace(shape=flat, deformation=deformed),
        wood,
        strength,
    )
    peak = 6 * force * L / (w * T**2)
    # A cantilever of length L is half of a beam of span 2 L.
    volume = beam_volume_mm3(width_mm=w, depth_mm=T, span_mm=2 * L, shape=6.0) / 2
    risk = (peak / (0.87 * 3.1)) ** 6 * volume / strength.reference_mm3
    assert float(got.split.risks[0].sum()) == pytest.approx(risk, rel=0.01)


def test_torsion_all_over_the_section_carries_its_torque() -> None:
    """Integrated over the section, r x tau gives the stiffness; faces have the known stresses."""
    for T, w, G_sz, G_sn in (
        (6.0, 8.0, 316.0, 745.0),
        (19.0, 5.7, 316.0, 745.0),
        (4.0, 20.0, 900.0, 100.0),
    ):
        section = {
            "thickness_mm": np.array([T]),
            "width_mm": np.array([w]),
            "G_sz_MPa": np.array([G_sz]),
            "G_sn_MPa": np.array([G_sn]),
        }
        at = section_places(25, 25)
        unit = section_stress_per_twist(**section, across=25, through=25)
        lever = unit.tall_face[0] * at.out * w / 2 + unit.flat_face[0] * at.up * T / 2
        stiffness = float(torsion_stiffness_Nmm2(**section)[0])
        assert float((lever * at.share).sum() * w * T) == pytest.approx(stiffness, rel=2e-3)
        known = stress_per_twist(**section)
        tall = unit.tall_face[0][(at.out == 1) & (at.up == 0)]
        flat = unit.flat_face[0][(at.out == 0) & (at.up == 1)]
        assert tall == pytest.approx(known.tall_face, rel=1e-3)
        assert flat == pytest.approx(known.flat_face, rel=1e-3)


def test_what_comes_on_top_at_the_peaks_is_added(monkeypatch: pytest.MonkeyPatch) -> None:
    """Twice the stress of a correction on an unloaded strip has 2^m times its risk."""
    b, state, wood = _tip_loaded(36, (0.0, 0.0, 0.0))
    state.deformation = np.zeros_like(state.deformation)

    def pull(
        forces: SectionForces, _wood: StripWood, _twist: np.ndarray, at: SectionPlaces
    ) -> StripStresses:
        sigma = np.full((len(forces.node), len(at.share)), 2.0)
        return StripStresses(sigma, 0 * sigma, 0 * sigma)

    monkeypatch.setattr(stress, "PEAKS", (pull,))
    once = strip_stress(b, state, wood, STRONG)
    monkeypatch.setattr(stress, "PEAKS", (pull, pull))
    twice = strip_stress(b, state, wood, STRONG)
    assert float(once.split.risks[0].sum()) > 0
    assert twice.split.risks[0] == pytest.approx(2**6 * once.split.risks[0], rel=1e-9)
