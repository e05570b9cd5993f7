"""The first estimate of splitting, worked again point by point with plain formulas."""

import math
from dataclasses import replace
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import cut_and_strip, uneven_cuts

from fitsim.grain import BoardStiffness
from fitsim.ring import slot_faces
from fitsim.seat import turn_seats
from fitsim.split import SplitEstimate, split_estimate, twist_per_length
from fitsim.strength import GrainStrength

WOOD = BoardStiffness(E_x_MPa=11300, E_y_MPa=720, G_xy_MPa=750, G_xz_MPa=970, G_yz_MPa=320, nu_xy=0.5)
STRONG = GrainStrength(
    shear_along_MPa=11.7,
    rolling_shear_MPa=3.4,
    tension_across_MPa=3.9,
    bending_MPa=85.0,
    shear_along_cov=0.14,
    rolling_shear_cov=0.13,
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


def series_stress(G_sz: float, G_sn: float, width: float) -> tuple[float, float, float]:
    """Stiffness and both stresses for unit twist from the long series, 60 terms."""
    q = THICKNESS_MM / width * math.sqrt(G_sn / G_sz)
    odd = [2 * i + 1 for i in range(60)]
    B = 32 * q * q / math.pi**4 * sum(
        (1 - 2 * q / (n * math.pi) * math.tanh(n * math.pi / (2 * q))) / n**4 for n in odd
    )  # fmt: skip
    tall = 1 - 8 / math.pi**2 * sum(1 / (n * n * math.cosh(min(n * math.pi * q / 2, 700))) for n in odd)
    flat = 8 / math.pi**2 * sum(
        (-1) ** i * math.tanh(n * math.pi * q / 2) / n**2 for i, n in enumerate(odd)
    )  # fmt: skip
    return (
        G_sz * THICKNESS_MM * width**3 * B,
        G_sz * width * tall,
        width * math.sqrt(G_sz * G_sn) * flat,
    )


def point_by_point(cut: dict[str, Any]) -> tuple[float, float, float]:
    """Chance, ratio and swept angle of the worst place of a flat-sawn board, in plain arithmetic."""
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
        places.append((angle, radius, psi, *series_stress(G_sz, G_sn, width)))
    worst = (-math.inf, 0.0, 0.0)
    table = np.array(places)
    for turn, drop in enumerate(drops[: math.ceil(strip.turns)]):
        last = min(turn + 1.0, strip.turns)
        inside = (table[:, 0] >= 2 * np.pi * turn - 1e-9) & (table[:, 0] <= 2 * np.pi * last + 1e-9)
        rows = table[inside]
        torque = drop * (last - turn) / np.trapezoid(rows[:, 1] ** 2 / rows[:, 3], rows[:, 0])
        for angle, _, psi, D, tall, flat in rows[0 if turn == 0 else 1 :]:
            for tau, shears in ((tall * torque / D, "tall"), (flat * torque / D, "flat")):
                safety, ratio = judged(tau, psi, shears)
                worst = max(worst, (safety, ratio, float(angle)))
    return NormalDist().cdf(worst[0]), worst[1], worst[2]


def judged(tau: float, psi: float, face: str) -> tuple[float, float]:
    """Standard deviations beyond strength, and stress over strength, at one place."""
    if face == "tall":
        parts = [(tau * math.cos(psi) / 11.7) ** 2, (tau * math.sin(psi) / 3.4) ** 2]
        covs = [0.14, 0.13]
    else:
        normal = tau * math.sin(2 * psi)  # tension one way across, as much compression along
        parts = [
            (tau * math.cos(2 * psi) / 11.7) ** 2,
            (normal / 3.9) ** 2,
            (normal / 85) ** 2 + normal * normal / (85 * 3.9),
        ]
        covs = [0.14, 0.25, 0.16]
    square = sum(parts)
    scatter = math.sqrt(sum((p / square * cov) ** 2 for p, cov in zip(parts, covs, strict=True)))
    return (math.sqrt(square) - 1) / scatter, math.sqrt(square)


@pytest.mark.parametrize("root_rad", [0.5, 1.4, 3.0])
def test_the_worst_place_point_by_point(root_rad: float) -> None:
    """Chance, ratio, turn and clock of the worst place, all formulas written out anew."""
    cut = CUT | {"root_rad": root_rad}
    found = estimate(cut)
    chance, ratio, angle = point_by_point(cut)
    assert found.chance == pytest.approx(chance, rel=1e-2, abs=1e-9)
    assert found.ratio == pytest.approx(ratio, rel=1e-3)
    assert found.turn == max(math.ceil(angle / (2 * math.pi) - 1e-9), 1)
    direction = (root_rad + angle) % math.pi
    assert found.clock_rad == pytest.approx(min(direction, math.pi - direction), abs=0.05)


def test_chance_is_one_half_where_stress_meets_mean_strength() -> None:
    """Strengths scaled until half of all boards split: there the ratio is 1, whatever the place."""
    names = ("shear_along_MPa", "rolling_shear_MPa", "tension_across_MPa", "bending_MPa")

    def found(scale: float) -> SplitEstimate:
        return estimate(CUT, replace(STRONG, **{n: scale * getattr(STRONG, n) for n in names}))

    low, high = 0.1, 10.0
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if found(middle).chance > 0.5 else (low, middle)
    assert found(low).ratio == pytest.approx(1, abs=1e-6)
    assert found(1.5 * low).chance < 0.5 < found(low / 1.5).chance


@given(st.floats(0.6, 0.95), st.floats(0, math.pi / 2))
def test_weaker_wood_splits_sooner(share: float, ring: float) -> None:
    """All strengths times a share below 1: the ratio rises by 1/share, the chance rises too."""
    names = ("shear_along_MPa", "rolling_shear_MPa", "tension_across_MPa", "bending_MPa")
    weak = replace(STRONG, **{name: share * getattr(STRONG, name) for name in names})
    before, after = estimate(CUT, ring=ring), estimate(CUT, weak, ring=ring)
    assert after.chance >= before.chance
    assert after.ratio >= before.ratio
    assert after.stress_MPa <= 2 * before.stress_MPa


def test_narrow_kerf_makes_a_shallower_bowl_that_splits_less() -> None:
    """Smaller drops twist less: the ratio falls with the drop, unequal turns and all."""
    shallow = CUT | {"kerf_mm": [k / 2 for k in CUT["kerf_mm"]]}
    assert estimate(shallow).ratio < 0.62 * estimate(CUT).ratio


def test_a_turn_that_falls_through_twists_by_the_thickness_at_most() -> None:
    """A reversed bevel has no drop of its own; the estimate stays finite."""
    cut = CUT | {"tilt_rad": [0.10, -0.09, 0.12, 0.11, 0.1]}
    found = estimate(cut)
    assert math.isfinite(found.ratio)
    assert found.turn == 2
