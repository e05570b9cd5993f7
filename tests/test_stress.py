"""Stress along the strip against statics and textbook bending, twist and shear."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from elastic_bowls import PINE_LIKE, bowl, strip_and_base
from twisted_rectangle import stress_per_twist

from fitsim.bowl.strip_layout import _sections
from fitsim.strip import beam as st
from fitsim.strip.curved_bar import CurvedBar
from fitsim.strip.press import press
from fitsim.strip.stress import StripWood, section_forces, strip_stress
from fitsim.strip.torsion import torsion_stiffness_Nmm2
from fitsim.strip.warping import curvature_per_mm
from fitsim.wood import grain
from fitsim.wood.strength import GrainStrength
from fitsim.wood.weakest_link import beam_volume_mm3

STRONG = GrainStrength(9.0, 2.9, 3.1, 70.0, 0.14, 0.14, 0.25, 0.16)


def _plain(E_MPa: float = 900.0, G_MPa: float = 375.0) -> np.ndarray:
    """Compliance of wood alike in all directions and without contraction."""
    return np.diag(1 / np.array([E_MPa] * 3 + [G_MPa] * 3))


def _wood(
    strip: st.ElasticStrip,
    *,
    width_mm: float,
    thickness_mm: float,
    lean: float = 0.0,
    pieces: int | None = None,
    compliance: np.ndarray | None = None,
    grain_rad: float = 0.0,
) -> StripWood:
    """Sections of a strip as a bowl's are laid out, or so many in every element."""
    x = strip.position_mm
    chord, middle = np.diff(x, axis=0), (x[1:] + x[:-1]) / 2
    if pieces is None:
        element, offset = _sections(strip.arc_mm, min(width_mm, thickness_mm))
    else:
        element = np.repeat(np.arange(len(chord)), pieces)
        offset = np.tile((np.arange(pieces) + 0.5) / pieces - 0.5, len(chord)) * strip.arc_mm[element]
    bend = curvature_per_mm(x)[element]
    psi = np.arctan2(chord[:, 1], chord[:, 0])[element] + offset * bend - grain_rad
    one = np.ones(len(element))
    if compliance is None:
        compliance = grain.strip_compliance(PINE_LIKE, ring_angle_rad=0.0, psi_rad=psi)
    bar = CurvedBar(
        width_mm * one, thickness_mm, lean * one, bend, np.broadcast_to(compliance, (len(one), 6, 6)).copy()
    )
    clock = np.unwrap(np.arctan2(middle[:, 1], middle[:, 0]))[element] + offset * bend - grain_rad
    length = (strip.arc_mm / np.bincount(element))[element]
    return StripWood(bar, element, offset, length, psi, 0.0, clock)


def test_sections_balance_the_load_beyond_them() -> None:
    """At every section the moment is the lever of the tip force from there, the force is the tip's.

    Also where several sections share an element, as near the root.
    """
    strip, *_ = strip_and_base(turns=1.3, per_turn=60, tilt_rad=0.11, kerf_mm=0.9)
    force = np.zeros_like(strip.position_mm)
    force[-1] = [0.3, -0.8, 1.7]
    flat = st.deformed_shape(strip, np.zeros((len(strip.arc_mm), 6)))
    eps = st.deformation_under(strip, flat, st.force_wrench(flat.position_mm, force))
    wood = _wood(strip, width_mm=5.4, thickness_mm=19.0, pieces=3)
    got = section_forces(strip, eps, wood)
    x, R = flat.middle_mm[wood.element], flat.middle_frame[wood.element]
    turned = wood.offset_mm * wood.bar.curvature_per_mm
    n, t, b = (R[:, :, i] for i in range(3))
    out = -wood.bar.curvature_per_mm * (strip.arc_mm[wood.element] ** 2 / 24 + wood.offset_mm**2 / 2)
    x = x + wood.offset_mm[:, None] * t + out[:, None] * n
    # The sections lie on the strip's line, to a quarter of what its arcs rise above their chords.
    nodes = np.unwrap(np.arctan2(strip.position_mm[:, 1], strip.position_mm[:, 0]))
    radius = np.interp(
        np.unwrap(np.arctan2(x[:, 1], x[:, 0])), nodes, np.hypot(*strip.position_mm[:, :2].T)
    )
    assert np.hypot(x[:, 0], x[:, 1]) == pytest.approx(radius, abs=0.01)
    c, s = np.cos(turned)[:, None], np.sin(turned)[:, None]
    own = np.stack([n * c + t * s, t * c - n * s, b], axis=1)
    # The section's own axes are those of the curve there: they point where it runs.
    assert np.arctan2(own[:, 1, 1], own[:, 1, 0]) == pytest.approx(
        np.arctan2(np.sin(wood.psi_rad), np.cos(wood.psi_rad)), abs=2e-3
    )
    moment = np.cross(strip.position_mm[-1] - x, force[-1])
    assert got[:, :3] == pytest.approx(np.einsum("kij,j->ki", own, force[-1]), abs=1e-9)
    assert got[:, 3:] == pytest.approx(np.einsum("kij,kj->ki", own, moment), abs=1e-7)


def test_turning_the_grain_with_the_pattern_changes_nothing() -> None:
    """Root at 20 deg with the grain at 20 deg is the bowl with both at 0, stress by stress."""
    found = []
    for turn in (0.0, 0.35):
        b = bowl(turns=2, per_turn=18, friction=0.35, start_rad=turn, grain_rad=turn)
        wood = _wood(b.strip, width_mm=5.7, thickness_mm=19.05, lean=0.087, grain_rad=turn)
        found.append(strip_stress(b, press(b, 25.0)[-1], wood, STRONG))
    assert found[1].ratio == pytest.approx(found[0].ratio, rel=1e-3)
    assert found[1].chance == pytest.approx(found[0].chance, rel=3e-3)
    assert found[1].worst.turn == found[0].worst.turn


def test_the_whole_strip_is_likelier_to_split_than_a_half_turn_of_it() -> None:
    """Chance of the half turn about the worst place <= that of the strip; modes add as independent."""
    b = bowl(turns=2, per_turn=18, friction=0.35)
    wood = _wood(b.strip, width_mm=5.7, thickness_mm=19.05, lean=0.087)
    weak = GrainStrength(14.0, 5.0, 5.4, 40.0, 0.14, 0.14, 0.25, 0.16)
    got = strip_stress(b, press(b, 60.0)[-1], wood, weak)
    assert 0 < got.worst.chance <= got.chance < 1
    assert got.chance == pytest.approx(1 - np.prod([1 - p for p in got.chances.values()]))
    assert got.ratio.max() >= got.worst.ratio * (1 - 1e-12)
    assert got.worst.mode == max(got.chances, key=lambda mode: got.chances[mode])


def test_a_half_turn_lies_about_where_the_strip_crosses_the_grain() -> None:
    """Halves part where the strip runs along the grain: both sides of a crossing count for one place.

    Told to lie within 1 rad of a crossing the whole strip is one half turn, about the other clock two.
    """
    b = bowl(turns=2, per_turn=18, friction=0.35)
    whole = _wood(b.strip, width_mm=5.7, thickness_mm=19.05, lean=0.087)
    weak, state = GrainStrength(14.0, 5.0, 5.4, 40.0, 0.14, 0.14, 0.25, 0.16), press(b, 60.0)[-1]
    count = len(whole.clock_rad)
    for about, crossing in ((0.0, True), (np.pi / 2, False)):
        # The same strip, its places told as if they lay from 1 rad before that clock to 1 rad behind it.
        clock = about + np.linspace(-1.0, 1.0, count)
        got = strip_stress(b, state, replace(whole, clock_rad=clock), weak)
        assert (got.worst.chance == pytest.approx(got.chance, rel=1e-9)) == crossing


def _tip_loaded(
    per_turn: int, force_N: tuple[float, float, float], pieces: int | None = None
) -> tuple[Any, Any, StripWood]:
    strip, *_ = strip_and_base(turns=1.5, per_turn=per_turn, tilt_rad=0.11, kerf_mm=0.9)
    load = np.zeros_like(strip.position_mm)
    load[-1] = force_N
    flat = st.deformed_shape(strip, np.zeros((len(strip.arc_mm), 6)))
    deformed = st.deformation_under(strip, flat, st.force_wrench(flat.position_mm, load))
    turn = (np.arange(len(strip.arc_mm))) // per_turn + 1
    wood = _wood(strip, width_mm=5.44, thickness_mm=19.05, lean=0.11, pieces=pieces)
    return SimpleNamespace(strip=strip, turn=turn), SimpleNamespace(shape=flat, deformation=deformed), wood


@pytest.mark.parametrize("shape", [5.0, 6.0, 10.0])
def test_refining_the_section_or_the_elements_hardly_moves_the_chance(shape: float) -> None:
    """Eight times the places, elements split into two and three, sections into four: under 5 percent."""
    strength = replace(STRONG, shape=shape)
    force = (1.0, -2.0, 9.0)
    found = {}
    for per_turn, pieces in ((36, None), (72, None), (108, None), (36, 4)):
        b, state, wood = _tip_loaded(per_turn, force, pieces)
        found[per_turn, pieces] = strip_stress(b, state, wood, strength).split.chances
    usual = found[36, None]
    for finer in ((72, None), (108, None), (36, 4)):
        assert found[finer][0] == pytest.approx(usual[0], rel=0.05)
        assert found[finer][2] == pytest.approx(usual[2], rel=0.05)
    b, state, wood = _tip_loaded(36, force)
    fine = strip_stress(b, state, wood, strength, places=(21, 31)).split.chances
    assert fine[0] == pytest.approx(usual[0], rel=0.03)


def _straight(
    n: int, L: float, w: float, T: float, load_N: tuple[float, float, float]
) -> tuple[Any, Any, StripWood]:
    """A straight bar along y, across the grain, loaded at its tip; its wood alike in all directions."""
    x = np.zeros((n + 1, 3))
    x[:, 1] = np.linspace(0, L, n + 1)
    frame = np.broadcast_to(np.eye(3), (n + 1, 3, 3)).copy()
    even = np.ones(n)
    section = st.straight_section(
        width_mm=w * even, thickness_mm=T, lean=0.0, E_s_MPa=700 * even, G_sz_MPa=300 * even,
        G_sn_MPa=700 * even, D_Nmm2=1e6 * even, twist_per_bend=None,
    )  # fmt: skip
    strip = st.make_strip(position_mm=x, frame=frame, section=section)
    load = np.zeros_like(x)
    load[-1] = load_N
    flat = st.deformed_shape(strip, np.zeros((n, 6)))
    deformed = st.deformation_under(strip, flat, st.force_wrench(flat.position_mm, load))
    wood = _wood(strip, width_mm=w, thickness_mm=T, compliance=_plain())
    return (
        SimpleNamespace(strip=strip, turn=np.ones(n, dtype=int)),
        SimpleNamespace(shape=flat, deformation=deformed),
        wood,
    )


def test_a_straight_bent_bar_has_the_beam_formulas_volume() -> None:
    """A bar across the grain bent by a load at its tip: risk (s/f)^m b h L/(2 (m + 1)^2)/V_ref, twice."""
    n, L, w, T, force = 90, 90.0, 6.0, 11.0, 7.0
    # So strong in shear that only tension counts.
    strength = replace(STRONG, shear_along_MPa=1e4, rolling_shear_MPa=1e4)
    got = strip_stress(*_straight(n, L, w, T, (0, 0, force)), strength)
    peak = 6 * force * L / (w * T**2)
    # A cantilever of length L is half of a beam of span 2 L.
    volume = beam_volume_mm3(width_mm=w, depth_mm=T, span_mm=2 * L, shape=6.0) / 2
    risk = (peak / (0.87 * 3.1)) ** 6 * volume / strength.reference_mm3
    # Close to the root the stress of a section a little farther on is taken: (1 - 2.5/90)^6 over 2.5 mm.
    assert float(got.split.risks[0].sum()) == pytest.approx(risk, rel=0.03)


def test_a_pull_along_the_strip_is_added() -> None:
    """An unloaded bar across the grain, pulled by s: risk (s/f)^m V/V_ref."""
    b, state, wood = _straight(30, 80.0, 6.0, 11.0, (0.0, 0.0, 0.0))
    once = strip_stress(b, state, wood, STRONG, pulled_MPa=np.array([2.0]))
    risk = (2.0 / (0.87 * 3.1)) ** 6 * 80.0 * 6.0 * 11.0 / STRONG.reference_mm3
    assert float(once.split.risks[0].sum()) == pytest.approx(risk, rel=1e-9)


def test_a_twisted_bar_has_saint_venants_shear_far_from_its_ends_and_a_root_held_plane() -> None:
    """Away from the root the greatest shear is that of the closed form; near it tension comes instead."""
    n, L, w, T, torque = 120, 120.0, 6.0, 15.0, 400.0
    b, state, wood = _straight(n, L, w, T, (0.0, 0.0, 0.0))
    force = np.zeros((n, 6))
    force[:, 4] = torque
    state = SimpleNamespace(
        shape=state.shape, deformation=np.einsum("eij,ej->ei", b.strip.flexibility, force)
    )
    got = strip_stress(b, state, wood, STRONG)
    section = {"thickness_mm": np.array([T]), "width_mm": np.array([w])}
    section |= {"G_sz_MPa": np.array([375.0]), "G_sn_MPa": np.array([375.0])}
    unit, D = stress_per_twist(**section), torsion_stiffness_Nmm2(**section)
    # The bar runs across the grain: shear through the thickness rolls, shear in the board is along.
    assert got.greatest_MPa[1, n // 2] == pytest.approx((unit.tall_face / D * torque).item(), rel=0.012)
    assert got.greatest_MPa[0, n // 2] == pytest.approx((unit.flat_face / D * torque).item(), rel=0.02)
    assert got.greatest_MPa[2, n // 2] < 1e-3 * got.greatest_MPa[2, 3]
    assert got.greatest_MPa[1, 3] < 0.9 * got.greatest_MPa[1, n // 2]
