"""The open bowl against measurements of its own solid."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from strategies import cut_and_strip, uneven_cuts

from fitsim.geometry.rings import slot_faces
from fitsim.geometry.seats import turn_seats
from fitsim.geometry.shape import BowlShape, bowl_shape, height_above_base_mm

THICKNESS_MM = 40.0  # thick enough for every drop of the strategy


def opened(cut: dict[str, Any]) -> tuple[BowlShape, np.ndarray, float]:
    """Shape, drops and turns of the strip of an uneven cut, every turn bound."""
    slot, strip = cut_and_strip(cut)
    seats = turn_seats(slot_faces(slot, strip, thickness_mm=THICKNESS_MM))
    shape = bowl_shape(slot, strip, seats, thickness_mm=THICKNESS_MM, pitch_mm=cut["pitch_mm"])
    assert shape is not None
    return shape, seats.seat_drop_mm, strip.turns


def staircase_mm(passed_turns: np.ndarray, drops: np.ndarray) -> np.ndarray:
    """Height by counting: every turn whose start lies behind adds its drop."""
    started = passed_turns[:, None] > np.arange(len(drops))
    return (started * drops).sum(axis=1)


@given(uneven_cuts())
def test_rise_is_the_mean_height_of_the_last_revolution(cut: dict[str, Any]) -> None:
    """Rise, least and greatest height against dense sampling of the staircase of unequal drops."""
    shape, drops, turns = opened(cut)
    passed = turns - 1 + (np.arange(100_000) + 0.5) / 100_000
    heights = staircase_mm(passed, drops)
    assert shape.rise_mm == pytest.approx(heights.mean(), rel=1e-4)
    assert shape.rise_greatest_mm == pytest.approx(heights.max(), rel=1e-12)
    assert shape.rise_least_mm == pytest.approx(heights.min(), rel=1e-12)
    assert height_above_base_mm(2 * np.pi * passed[::997], drops) == pytest.approx(heights[::997])
    assert shape.height_mm == pytest.approx(shape.rise_mm + THICKNESS_MM)


@given(uneven_cuts())
def test_the_wall_is_the_straight_line_nearest_to_the_middles_of_its_whole_turns(
    cut: dict[str, Any],
) -> None:
    """Its slope is that of numpy's line through a staircase; under two whole turns from base to rim."""
    shape, drops, turns = opened(cut)
    whole = int(turns + 1e-9)
    expected = shape.rise_mm / (cut["pitch_mm"] * turns)
    if whole > 1:
        middles = cut["pitch_mm"] * (np.arange(whole) + 1)  # half a turn on, and half a pitch outside that
        expected = np.polyfit(middles, np.cumsum(drops)[:whole], 1)[0]
    assert math.tan(shape.wall_slope_rad) == pytest.approx(expected, rel=1e-6)


def held_ml(cut: dict[str, Any], drops: np.ndarray, turns: float) -> float:
    """Volume over the base: columns of 360 directions, each cut into 4 000 levels.

    At each level the wall is the lowest piece of strip in that direction whose top is higher.
    """
    directions, levels = 360, 4000
    total = 0.0
    for direction in (np.arange(directions) + 0.5) / directions:
        passed = np.arange(direction, turns, 1.0)
        turn = np.floor(passed).astype(int)
        middle = np.cumsum(drops)[turn]  # height of each piece's mid-thickness over the base's
        low, high = THICKNESS_MM / 2, middle[-1] + THICKNESS_MM / 2
        z = low + (np.arange(levels) + 0.5) / levels * (high - low)
        piece = np.searchsorted(middle + THICKNESS_MM / 2, z)
        kerf, tilt = (np.array(cut[key])[turn[piece]] for key in ("kerf_mm", "tilt_rad"))
        inner = cut["base_radius_mm"] + cut["pitch_mm"] * passed[piece] + kerf / np.cos(tilt) / 2
        radius = inner + (z - middle[piece]) * np.tan(tilt)
        total += np.sum(radius**2) / 2 * (high - low) / levels * 2 * np.pi / directions
    return total / 1000


@pytest.mark.parametrize("pitch", [5.3, 9.1])
def test_capacity_against_a_volume_by_levels(pitch: float) -> None:
    """What the stepped solid holds, counted level by level, unequal kerfs and tilts."""
    cut = {
        "base_radius_mm": 31.0,
        "outer_radius_mm": 31.0 + 5.1 * pitch,
        "pitch_mm": pitch,
        "kerf_mm": [0.9, 0.6, 1.1, 0.7, 0.8, 0.7],
        "tilt_rad": [0.09, 0.12, 0.10, 0.15, 0.08, 0.1],
        "root_rad": 0.4,
    }
    shape, drops, turns = opened(cut)
    assert shape.capacity_ml == pytest.approx(held_ml(cut, drops, turns), rel=2e-3)


def test_a_fine_cut_holds_nearly_a_truncated_cone() -> None:
    """With a fine pitch the steps vanish: volume pi H (a^2 + a b + b^2)/3 of the cone they follow."""
    cut = {"base_radius_mm": 40.0, "outer_radius_mm": 100.0, "pitch_mm": 1.0, "kerf_mm": 0.1,
           "tilt_rad": 0.05, "root_rad": 0.0}  # fmt: skip
    shape, drops, turns = opened(cut)
    a, b, rise = 40.0, 40.0 + turns, float(drops[0]) * turns
    # The faces met lie near the top of the board, T/2 tan(theta) outside mid-thickness.
    a, b = (r + THICKNESS_MM / 2 * math.tan(0.05) for r in (a, b))
    assert shape.capacity_ml == pytest.approx(math.pi * rise * (a * a + a * b + b * b) / 3000, rel=0.01)


def test_diameters_by_hand() -> None:
    """Mouth: top of the inner face over the last turn; foot: bottom of the base over the first."""
    tilt, slot = math.radians(6), 0.7 / math.cos(math.radians(6))
    cut = {"base_radius_mm": 30.0, "outer_radius_mm": 30 + 6 * 4.0, "pitch_mm": 6.0, "kerf_mm": 0.7,
           "tilt_rad": tilt, "root_rad": 1.0}  # fmt: skip
    shape, _, turns = opened(cut)
    lean = THICKNESS_MM / 2 * math.tan(tilt)
    assert shape.rim_diameter_mm == pytest.approx(2 * (30 + 6 * (turns - 0.5) + slot / 2 + lean))
    assert shape.base_diameter_mm == pytest.approx(2 * (30 + 6 * 0.5 - slot / 2 - lean))


def test_no_shape_where_a_turn_falls_through() -> None:
    """A drop beyond the thickness, or no seat at all, leaves nothing to measure."""
    cut = {"base_radius_mm": 30.0, "outer_radius_mm": 54.0, "pitch_mm": 6.0, "kerf_mm": 0.7,
           "tilt_rad": [0.1, 0.01, 0.1, 0.1], "root_rad": 0.0}  # fmt: skip
    for reversed_or_flat in (0.01, -0.1):
        slot, strip = cut_and_strip(cut | {"tilt_rad": [0.1, reversed_or_flat, 0.1, 0.1]})
        seats = turn_seats(slot_faces(slot, strip, thickness_mm=THICKNESS_MM))
        assert bowl_shape(slot, strip, seats, thickness_mm=THICKNESS_MM, pitch_mm=6.0) is None
