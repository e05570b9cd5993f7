"""The first estimate of splitting, worked again point by point with plain formulas."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import cut_and_strip, uneven_cuts

from fitsim.bowl.twist_splitting import SplitEstimate, split_estimate, twist_per_length
from fitsim.geometry.rings import slot_faces
from fitsim.geometry.seats import turn_seats
from fitsim.wood.grain import BoardStiffness
from fitsim.wood.strength import GrainStrength, whole_risks
from fitsim.wood.weakest_link import chance_of_risk

WOOD = BoardStiffness(E_x_MPa=11300, E_y_MPa=720, G_xy_MPa=750, G_xz_MPa=970, G_yz_MPa=320, nu_xy=0.5)
STRONG = GrainStrength(
    shear_along_MPa=11.7,
    rolling_shear_MPa=3.4,
    tension_across_MPa=3.9,
    bending_MPa=85.0,
    shear_along_cov=0.14,
    rolling_shear_cov=0.14,
    tension_across_cov=0.25,
    bending_cov=0.16,
)
CUT: dict[str, Any] = {
    "base_radius_mm": 27.0,
    "outer_radius_mm": 27.0 + 4.1 * 6.2,
    "pitch_mm": 6.2,
    "kerf_mm": [0.7, 0.9, 0.6, 0.8, 0.7],
    "tilt_rad": [0.10, 0.09, 0.12, 0.11, 0.1],
    "root_rad": 0.5,
}
THICKNESS_MM = 14.0


def estimate(cut: dict[str, Any], strength: GrainStrength = STRONG, ring: float = 0.0) -> SplitEstimate:
    """Split estimate of a cut."""
    slot, strip = cut_and_strip(cut)
    seats = turn_seats(slot_faces(slot, strip, thickness_mm=THICKNESS_MM))
    return split_estimate(
        slot,
        strip,
        seats,
        thickness_mm=THICKNESS_MM,
        ring_angle_rad=ring,
        stiffness=WOOD,
        strength=strength,
    )


@given(uneven_cuts())
def test_the_twist_adds_up_to_the_drops(cut: dict[str, Any]) -> None:
    """Climb along a helix, dz = r kappa ds with ds = r da: over each turn it is that turn's drop."""
    slot, strip = cut_and_strip(cut)
    seats = turn_seats(slot_faces(slot, strip, thickness_mm=40.0))
    stiffness = 1e5 * (1.5 + np.sin(2 * strip.angle_rad + 0.3))
    twist = twist_per_length(strip, seats, stiffness, thickness_mm=40.0)
    for turn, drop in enumerate(seats.seat_drop_mm * seats.share):
        end = min(2 * np.pi * (turn + 1), strip.angle_rad[-1])
        inside = (strip.angle_rad > 2 * np.pi * turn + 1e-9) & (strip.angle_rad <= end + 1e-9)
        torque = twist[inside] * stiffness[inside]
        assert torque == pytest.approx(torque[0])  # one torque all the way round
        angle = np.linspace(2 * np.pi * turn, end, 4001)
        radius = np.interp(angle, strip.angle_rad, strip.radius_mm)
        climb = np.trapezoid(radius**2 * torque[0] / np.interp(angle, strip.angle_rad, stiffness), angle)
        # Stiffness swings by a factor of 5 over 18 samples: chords of 1/D and of D differ so much.
        assert climb == pytest.approx(drop, rel=5e-3)


def test_even_strip_twists_by_drop_over_two_pi_r_squared() -> None:
    """Kappa = h/(2 pi r^2) when stiffness and radius hardly change over a turn."""
    cut = CUT | {"base_radius_mm": 600.0, "outer_radius_mm": 600 + 4.1 * 6.2}
    slot, strip = cut_and_strip(cut)
    seats = turn_seats(slot_faces(slot, strip, thickness_mm=THICKNESS_MM))
    twist = twist_per_length(strip, seats, np.full(strip.angle_rad.shape, 7e4), thickness_mm=THICKNESS_MM)
    expected = seats.seat_drop_mm[1] / (2 * np.pi * strip.radius_mm[100] ** 2)
    assert twist[100] == pytest.approx(expected, rel=0.01)


def series_stress(G_sz: float, G_sn: float, width: float) -> tuple[float, np.ndarray, np.ndarray]:
    """Stiffness, and tau_sz and tau_sn for unit twist at the middles of 24 x 48 cells, long series."""
    q = THICKNESS_MM / width * math.sqrt(G_sn / G_sz)
    odd = np.array([2 * i + 1 for i in range(60)])
    B = 32 * q * q / math.pi**4 * float(
        ((1 - 2 * q / (odd * math.pi) * np.tanh(odd * math.pi / (2 * q))) / odd**4).sum()
    )  # fmt: skip
    nu, zeta = ((np.arange(c) + 0.5) / c * 2 - 1 for c in (24, 48))
    k = (odd * math.pi / 2)[:, None, None]
    sign = ((-1.0) ** np.arange(60) / odd**2)[:, None, None]
    N, Z = nu[None, :, None], zeta[None, None, :]
    # Only exponents that fall: cosh(k q zeta)/cosh(k q) without overflow.
    up, down = np.exp(-k * q * (1 - Z)), np.exp(-k * q * (1 + Z))
    whole = 1 + np.exp(-2 * k * q)
    tall = nu[:, None] - 8 / math.pi**2 * (sign * np.sin(k * N) * (up + down) / whole).sum(axis=0)
    flat = 8 / math.pi**2 * (sign * np.cos(k * N) * (up - down) / whole).sum(axis=0)
    return (
        G_sz * THICKNESS_MM * width**3 * B,
        G_sz * width * tall,
        width * math.sqrt(G_sz * G_sn) * flat,
    )


def cell_by_cell(cut: dict[str, Any]) -> tuple[float, float, list[float]]:
    """Risks of splitting and of rolling shear, and the swept angles where each is worst."""
    _slot, strip = cut_and_strip(cut)
    drops = [k / math.sin(t) for k, t in zip(cut["kerf_mm"], cut["tilt_rad"], strict=True)]
    places = []
    for angle, width, radius in zip(strip.angle_rad, strip.width_mm, strip.radius_mm, strict=True):
        r = cut["base_radius_mm"] + cut["pitch_mm"] * angle / (2 * math.pi)
        lean = math.atan2(cut["pitch_mm"] / (2 * math.pi), r)
        psi = cut["root_rad"] + angle + math.pi / 2 - lean
        c, s = math.cos(psi), math.sin(psi)
        G_sz = 1 / (c * c / WOOD.G_xz_MPa + s * s / WOOD.G_yz_MPa)
        bulk = 1 / WOOD.E_x_MPa + 1 / WOOD.E_y_MPa + 2 * WOOD.nu_xy / WOOD.E_x_MPa
        G_sn = 1 / (4 * c * c * s * s * bulk + (c * c - s * s) ** 2 / WOOD.G_xy_MPa)
        places.append((angle, radius, width, psi, *series_stress(G_sz, G_sn, width)))
    angle = np.array([p[0] for p in places])
    over = np.array([p[1] ** 2 / p[4] for p in places])
    risk, rolled, densities, rolls = 0.0, 0.0, [], []
    for i, (a, radius, width, psi, D, tall, flat) in enumerate(places):
        turn = int(max(math.ceil(a / (2 * math.pi) - 1e-9), 1)) - 1
        last = min(turn + 1.0, strip.turns)
        inside = (angle >= 2 * np.pi * turn - 1e-9) & (angle <= 2 * np.pi * last + 1e-9)
        torque = drops[turn] * (last - turn) / np.trapezoid(over[inside], angle[inside])
        c, s = math.cos(psi), math.sin(psi)
        sz, sn = -tall * torque / D, flat * torque / D
        pull = np.maximum(-2 * sn * c * s, 0) / (0.87 * 3.9)
        shear = ((sn * math.cos(2 * psi)) ** 2 + (sz * c) ** 2) / 11.7**2
        roll = np.abs(sz * s) / 3.4
        area = width * THICKNESS_MM
        density = float(((pull**2 + shear + roll**2) ** 3).mean()) * area
        before, after = angle[max(i - 1, 0)], angle[min(i + 1, len(angle) - 1)]
        length = radius * (after - before) / 2
        rolls.append(float((roll**10).mean()) * area)
        risk += density * length
        rolled += rolls[-1] * length
        densities.append(density)
    worst = [float(angle[int(np.argmax(v))]) for v in (densities, rolls)]
    return risk / STRONG.reference_mm3, rolled / 150000.0, worst


@pytest.mark.parametrize("root_rad", [0.5, 1.4, 3.0])
def test_the_chance_cell_by_cell(root_rad: float) -> None:
    """Risks of splitting and rolling shear, chance, turn and clock, all formulas written out anew."""
    cut = CUT | {"root_rad": root_rad}
    found = estimate(cut)
    risk, rolled, worst = cell_by_cell(cut)
    assert float(found.split.risks[0].sum()) == pytest.approx(risk, rel=0.03)
    # A tenth power: half a percent of stress is five of the risk.
    assert float(found.split.risks[2].sum()) == pytest.approx(rolled, rel=0.05)
    assert found.chance == pytest.approx(1 - math.prod(1 - p for p in found.split.chances))
    for p, r, m, between in zip(
        found.split.chances,
        whole_risks(found.split.risks, STRONG),
        STRONG.shapes,
        STRONG.betweens,
        strict=True,
    ):
        assert p == pytest.approx(chance_of_risk(float(r), shape=m, between=between))
    angle = worst[0 if found.split.mode == "splitting" else 1]
    assert found.turn == max(math.ceil(angle / (2 * math.pi) - 1e-9), 1)
    direction = (root_rad + angle) % math.pi
    assert found.clock_rad == pytest.approx(min(direction, math.pi - direction), abs=0.1)


def test_two_halves_of_a_section_alike_are_counted_as_two() -> None:
    """Rings a billionth off flat look at the whole section, rings flat at half of it: the same chance."""
    assert estimate(CUT, ring=1e-8).chance == pytest.approx(estimate(CUT, ring=0.0).chance, rel=1e-4)


def test_stress_harder_by_its_own_scale_splits_one_in_ten() -> None:
    """All strengths divided by the scale told: 1 bowl in 10 splits."""
    first = estimate(CUT)
    names = ("shear_along_MPa", "rolling_shear_MPa", "tension_across_MPa", "bending_MPa")
    x = first.times_to_limit
    weaker = replace(STRONG, **{n: getattr(STRONG, n) / x for n in names})
    assert estimate(CUT, weaker).chance == pytest.approx(0.1, rel=1e-3)


@given(st.floats(0.6, 0.95), st.floats(0, math.pi / 2))
def test_weaker_wood_splits_sooner(share: float, ring: float) -> None:
    """All strengths times a share below 1: the ratio does not fall, the chance rises."""
    names = ("shear_along_MPa", "rolling_shear_MPa", "tension_across_MPa", "bending_MPa")
    weak = replace(STRONG, **{name: share * getattr(STRONG, name) for name in names})
    before, after = estimate(CUT, ring=ring), estimate(CUT, weak, ring=ring)
    assert after.chance >= before.chance
    assert after.times_to_limit == pytest.approx(share * before.times_to_limit, rel=1e-4)


def test_narrow_kerf_makes_a_shallower_bowl_that_splits_less() -> None:
    """Smaller drops twist less: the chance falls by far more than the drop, unequal turns and all."""
    shallow = CUT | {"kerf_mm": [k / 2 for k in CUT["kerf_mm"]]}
    assert estimate(shallow).chance < 0.1 * estimate(CUT).chance


def test_a_turn_that_falls_through_twists_by_the_thickness_at_most() -> None:
    """A reversed bevel has no drop of its own; the estimate stays finite."""
    cut = CUT | {"tilt_rad": [0.10, -0.09, 0.12, 0.11, 0.1]}
    found = estimate(cut)
    assert math.isfinite(found.ratio)
    assert found.turn == 2
