"""The cut as a curve: its length, the strip it leaves, and where the strip ends."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from strategies import cut_and_strip, uneven_cuts

from fitsim.errors import OutsideModelError
from fitsim.geometry.cut import cut_length_mm, edge_radius_mm, spiral_slot, strip_between_slots

PLAIN: dict[str, Any] = {
    "base_radius_mm": 28.0,
    "outer_radius_mm": 75.0,
    "pitch_mm": 6.5,
    "kerf_mm": 0.7,
    "tilt_rad": math.radians(5.5),
}


@given(uneven_cuts(), st.sampled_from((7, 24, 72)))
def test_length_of_the_cut_against_quadrature(cut: dict[str, Any], points: int) -> None:
    """The closed form equals adaptive quadrature of sqrt(r^2 + r'^2), however coarse the samples."""
    base, pitch = cut["base_radius_mm"], cut["pitch_mm"]
    whole = 2 * math.pi * (cut["outer_radius_mm"] - base) / pitch
    growth = pitch / (2 * math.pi)
    expected, _ = quad(lambda a: math.hypot(base + growth * a, growth), 0, whole, limit=200)
    slot = spiral_slot(**cut, points_per_turn=points)
    assert cut_length_mm(slot) == pytest.approx(expected, rel=1e-9)


def test_length_of_a_polygon_through_the_samples_comes_near() -> None:
    """The curve's own points are as far apart as its length says (2 000 chords a turn)."""
    slot = spiral_slot(**PLAIN, root_rad=0.7, points_per_turn=2000)
    chords = np.linalg.norm(np.diff(slot.position_mm, axis=0), axis=1)
    assert cut_length_mm(slot) == pytest.approx(chords.sum(), rel=1e-6)


def test_turns_of_the_cut() -> None:
    """N = (R_o - R_b)/p: 47 mm at 6.5 mm a turn is 7.23 turns."""
    assert spiral_slot(**PLAIN).turns == pytest.approx(47 / 6.5)
    assert round(spiral_slot(**PLAIN).turns, 2) == 7.23


@given(uneven_cuts(), st.booleans())
def test_tangents_and_normals_follow_the_curve(cut: dict[str, Any], clockwise: bool) -> None:
    """The tangent runs along the chords, the normal is square to it and looks outward."""
    slot = spiral_slot(**cut, clockwise=clockwise)
    chord = slot.position_mm[2:-1] - slot.position_mm[:-3]
    chord = chord / np.linalg.norm(chord, axis=1)[:, None]
    assert slot.tangent[1:-2] == pytest.approx(chord, abs=2e-3)
    assert np.sum(slot.tangent * slot.normal, axis=1) == pytest.approx(0, abs=1e-12)
    assert np.all(np.sum(slot.normal * slot.position_mm, axis=1) > 0)


@given(uneven_cuts())
def test_strip_widths_against_the_two_slots_beside_it(cut: dict[str, Any]) -> None:
    """Inside, a width is the pitch less half of each neighbouring slot, k/cos(theta) each."""
    slot, strip = cut_and_strip(cut)
    slots = [k / math.cos(t) for k, t in zip(cut["kerf_mm"], cut["tilt_rad"], strict=True)]
    turns = (cut["outer_radius_mm"] - cut["base_radius_mm"]) / cut["pitch_mm"]
    for angle, width in zip(strip.angle_rad[:-1], strip.width_mm[:-1], strict=True):
        turn = max(math.ceil(angle / (2 * math.pi) - 1e-9) - 1, 0)
        passed = angle / (2 * math.pi)
        if passed + 1 < turns - 1e-9:
            # The root itself is the start of turn 1; one turn on it is the end of turn 1.
            outside = max(math.ceil(passed + 1 - 1e-9) - 1, 0)
            expected = cut["pitch_mm"] - (slots[turn] + slots[outside]) / 2
        else:
            expected = cut["pitch_mm"] * (turns - passed) - slots[turn] / 2
        assert width == pytest.approx(expected, abs=1e-9)
    assert slot.turns == pytest.approx(turns)


@given(uneven_cuts())
def test_free_end_of_a_round_board(cut: dict[str, Any]) -> None:
    """Trimmed at half a pitch, M = N - 1/2 - k_h/(2 p) with the slot k_h of the last turn."""
    _, strip = cut_and_strip(cut)
    turns = (cut["outer_radius_mm"] - cut["base_radius_mm"]) / cut["pitch_mm"]
    last = math.ceil(strip.turns) - 1
    slot = cut["kerf_mm"][last] / math.cos(cut["tilt_rad"][last])
    assert strip.turns == pytest.approx(turns - 0.5 - slot / (2 * cut["pitch_mm"]), abs=1e-9)
    assert strip.width_mm[-1] == pytest.approx(cut["pitch_mm"] / 2, abs=1e-9)


def ray_to_square_mm(polar_rad: float, *, side_mm: float, turned_rad: float) -> float:
    """Distance from the centre to a square's outline by cutting the ray with its four sides."""
    corners = [
        side_mm / math.sqrt(2) * np.array([math.cos(a), math.sin(a)])
        for a in turned_rad + math.pi / 4 + math.pi / 2 * np.arange(4)
    ]
    ray = np.array([math.cos(polar_rad), math.sin(polar_rad)])
    found = []
    for start, stop in zip(corners, corners[1:] + corners[:1], strict=True):
        far, share = np.linalg.solve(np.column_stack([ray, start - stop]), start)
        if far > 0 and -1e-9 <= share <= 1 + 1e-9:
            found.append(float(far))
    return min(found)


@given(uneven_cuts())
def test_the_last_turn_of_a_square_board_carries_its_corners(cut: dict[str, Any]) -> None:
    """Over the last revolution the width runs to the square's own outline, entry at mid-side."""
    side = 2 * cut["outer_radius_mm"]
    slot = spiral_slot(**cut)
    strip = strip_between_slots(slot, across_mm=side, outline="square", end_width_mm=cut["pitch_mm"] / 2)
    entry = float(slot.angle_rad[-1])
    for angle, width, slot_mm in list(
        zip(strip.angle_rad[:-1], strip.width_mm[:-1], slot.slot_mm, strict=False)
    )[::3]:
        if angle + 2 * math.pi <= entry + 1e-9:
            continue
        inner = cut["base_radius_mm"] + cut["pitch_mm"] * angle / (2 * math.pi) + slot_mm / 2
        edge = ray_to_square_mm(float(angle), side_mm=side, turned_rad=entry)
        assert width == pytest.approx(edge - inner, abs=1e-9)


def test_corner_of_a_square_board() -> None:
    """An eighth of a turn after the outer slot ends, the strip reaches the corner, a/sqrt(2) out."""
    slot = spiral_slot(**(PLAIN | {"outer_radius_mm": 28 + 6.5 * 4}))  # 4 turns: 108 mm square
    strip = strip_between_slots(slot, across_mm=108, outline="square", end_width_mm=3.25)
    corner = 72 * 3 + 9
    inner = 28 + 6.5 * 3.125 + 0.35 / math.cos(math.radians(5.5))
    assert strip.width_mm[corner] == pytest.approx(108 / math.sqrt(2) - inner, abs=1e-9)
    assert strip.width_mm.argmax() == corner


def test_what_cannot_be_cut_is_refused() -> None:
    """No base, no pitch, too few values, no strip, less than a turn, an unknown outline."""
    with pytest.raises(OutsideModelError, match="base radius"):
        spiral_slot(**(PLAIN | {"base_radius_mm": 75.0}))
    with pytest.raises(OutsideModelError, match="pitch"):
        spiral_slot(**(PLAIN | {"pitch_mm": 0.0}))
    with pytest.raises(OutsideModelError, match="kerf: 7 values where the cut asks for 8"):
        spiral_slot(**(PLAIN | {"kerf_mm": [0.7] * 7}))
    with pytest.raises(OutsideModelError, match="nothing is left"):
        cut_and_strip(PLAIN | {"kerf_mm": 6.6})
    with pytest.raises(OutsideModelError, match="shorter than one full turn"):
        cut_and_strip(PLAIN | {"base_radius_mm": 66.0})
    with pytest.raises(OutsideModelError, match="oval"):
        edge_radius_mm(np.array([0.0]), across_mm=100, outline="oval", entry_rad=0.0)
