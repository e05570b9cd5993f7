"""The slot of a cut that winds between two lines other than circles, sampled from the root outward.

The same curve as a round cut's (:mod:`fitsim.geometry.cut`): at the angle a from the root it has gone the
share a/(2 pi N) of the way from the base's line to the outermost one, square to both; where the pitch
varies, the share that the round cut of the same pitches has gone of its way. Where the board's edge lies
outside the outermost line, at corners sharper than the turns, the cut goes on outward until it meets the
edge.
"""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from fitsim.arrays import Array, frozen
from fitsim.geometry.cut import POINTS_PER_TURN, SlotCurve, by_turn, turn_indices, varying_reach_mm
from fitsim.geometry.winding import Winding
from fitsim.quantities import TURN_RAD

__all__ = ["wound_slot"]

MORE_TURNS = 1.0
"""The edge is met within one turn more: every outline here touches its outermost line somewhere."""


def _gone(angle_rad: Array, turns: float, pitch_shape: tuple[float, ...]) -> tuple[Array, Array]:
    """Share of the way outward gone at angles swept, and its growth for each unit of angle."""
    if not pitch_shape:
        whole = TURN_RAD * turns
        return angle_rad / whole, np.full_like(angle_rad, 1 / whole)
    return varying_reach_mm(1.0, pitch_mm=1 / turns, pitch_shape=pitch_shape, turns=angle_rad / TURN_RAD)


@lru_cache(maxsize=64)
def _entry_rad(wound: Winding, turns: float, pitch_shape: tuple[float, ...]) -> float:
    """Angle at which the cut, going outward, meets the board's edge for good."""

    def beyond(angle: Array) -> Array:
        reach = wound.span_mm(angle) * _gone(angle, turns, pitch_shape)[0]
        return np.asarray(reach - wound.edge_reach_mm(angle))

    whole = TURN_RAD * turns
    grid = whole + np.linspace(0, MORE_TURNS * TURN_RAD, 721)
    out = beyond(grid) >= -1e-9
    first = int(np.argmax(out)) if out.any() else len(grid) - 1
    if first == 0:
        return whole
    low, high = float(grid[first - 1]), float(grid[first])
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if float(beyond(np.array([middle]))[0]) < 0 else (low, middle)
    return high


def wound_slot(
    wound: Winding,
    *,
    turns: float,
    kerf_mm: float | Sequence[float],
    tilt_rad: float | Sequence[float],
    points_per_turn: int | None = None,
    pitch_shape: Sequence[float] = (),
) -> SlotCurve:
    """Sample a cut between two lines from the base outward.

    Parameters
    ----------
    wound : Winding
        The lines, beginning at the root.
    turns : float
        Turns from the base's line to the outermost one. [-]
    kerf_mm, tilt_rad : float or sequence of float
        One value, or one for each turn, innermost first. [mm, rad]
    points_per_turn : int, optional
        Samples a revolution; left out, those of a round cut, or twice as many where the line bends
        unevenly.
    pitch_shape : sequence of float
        Pitch of each turn over their mean, innermost first, where it varies; the last value goes on. [-]

    Returns
    -------
    SlotCurve
        The sampled curve; where the board has corners of its own it may run on by part of a turn.

    Raises
    ------
    OutsideModelError
        If a list is shorter than the turns.
    """
    if points_per_turn is None:
        points_per_turn = POINTS_PER_TURN if wound.even else 2 * POINTS_PER_TURN
    shape = tuple(pitch_shape)
    entry = _entry_rad(wound, turns, shape)
    step = TURN_RAD / points_per_turn
    angle = np.append(step * np.arange(int(np.ceil(entry / step - 1e-9))), entry)
    share, rate = _gone(angle, turns, shape)
    span = wound.span_mm(angle)
    reach, growth = span * share, span * rate
    at = wound.at(angle, reach)
    onward = at.onward_mm(growth)
    tangent = onward / np.hypot(*onward.T)[:, None]
    turn = np.minimum(turn_indices(angle), int(np.ceil(turns - 1e-9)) - 1)
    return SlotCurve(
        angle_rad=frozen(angle),
        position_mm=frozen(at.position_mm),
        tangent=frozen(tangent),
        normal=frozen(np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)),
        radius_mm=frozen(reach + wound.support_mm(angle)),
        kerf_mm=frozen(by_turn(kerf_mm, turn, "kerf")),
        tilt_rad=frozen(by_turn(tilt_rad, turn, "tilt")),
        points_per_turn=points_per_turn,
        winding=wound,
    )
