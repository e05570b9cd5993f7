"""The bowl in space for the page: corners of the strip in every calculated state, and how hard it works.

The states are those of the strip's own path: flat, pressed step by step, and let go. Nothing is drawn and
nothing is solved here; between two states the page goes along the straight line from corner to corner.
"""

import math
from typing import Any

import numpy as np

from fitsim.arrays import Array
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.elastic import Opening
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.strip_layout import NODES_PER_TURN, laid_out
from fitsim.errors import OutsideModelError
from fitsim.report.common_words import plain_words
from fitsim.strip.release import KEPT_SHARE
from fitsim.strip.state import ElasticBowl, PressState, mean_rise_mm
from fitsim.strip.stress import StripStress, StripWood, strip_stress
from fitsim.wood.strength import GrainStrength, grain_strength

__all__ = ["flat_space", "opening_space", "strip_corners_mm"]

NEARLY_THROUGH = 0.97
"""Where a turn fell through it is marked along the seats sunk by this share of the thickness. [-]"""

DIGITS = 2
"""Hundredths of a millimetre: finer than a screen shows. [-]"""


def strip_corners_mm(elastic: ElasticBowl, position_mm: Array, frame: Array) -> Array:
    """Corners of the strip's section at every node: inner and outer below, outer and inner above.

    Parameters
    ----------
    elastic : ElasticBowl
        The strip and its slots, whose tilts its faces have.
    position_mm, frame : numpy.ndarray
        Nodes and their axes n, t, b as columns, (n, 3) and (n, 3, 3). [mm, -]

    Returns
    -------
    numpy.ndarray
        Shape (n, 4, 3). [mm]
    """
    seats, count = elastic.seats, len(position_mm)
    around, half = len(seats.base_mm), seats.half_width_mm[len(seats.base_mm) :]
    inner = np.tan(np.concatenate([seats.tilt_rad[:1], seats.tilt_rad]))
    outer = np.zeros(count)
    sawn = max(count - around, 0)  # the last turn ends at the board's own square edge
    outer[:sawn] = inner[around : around + sawn]
    return _corners(position_mm, frame, half, inner, outer, seats.thickness_mm / 2)


def _corners(at: Array, frame: Array, half: Array, inner: Array, outer: Array, up: float) -> Array:
    n, b = frame[:, :, 0], frame[:, :, 2]
    places = [
        (-half - up * inner, -up),
        (half - up * outer, -up),
        (half + up * outer, up),
        (-half + up * inner, up),
    ]
    return np.stack([at + out[:, None] * n + z * b for out, z in places], axis=1)


def _base_rim_mm(elastic: ElasticBowl) -> Array:
    """Edge of the base below and above, from the root once round to it again, (m, 2, 3). [mm]"""
    seats, strip = elastic.seats, elastic.strip
    around, up = len(seats.base_mm), seats.thickness_mm / 2
    lean = np.tan(np.resize(seats.tilt_rad[:around], around))
    corners = _corners(seats.base_mm, seats.base_frame, seats.half_width_mm[:around], lean, lean, up)[
        :, 1:3
    ]
    own = strip_corners_mm(elastic, strip.position_mm, strip.frame)[0]
    root = np.stack([own[[1, 2]], own[[0, 3]]])
    return np.concatenate([corners, root])


def flat_space(bowl: Bowl) -> dict[str, Any]:
    """The flat board cut into its strip, before anything is pressed.

    Parameters
    ----------
    bowl : Bowl
        The bowl, every input at one value.

    Returns
    -------
    dict
        As :func:`opening_space`, with the flat state alone.
    """
    elastic, _ = laid_out(bowl, rigid_fit(bowl), NODES_PER_TURN)
    corners = strip_corners_mm(elastic, elastic.strip.position_mm, elastic.strip.frame)
    flat = {"name": "flat", "press_N": 0.0, "rise_mm": 0.0, "corners": _flat(corners), "work": None}
    return {
        **_board(elastic),
        "states": [flat],
        "end": "will not open",
        "worst": None,
        "through": [],
    }


def opening_space(bowl: Bowl, opening: Opening) -> dict[str, Any]:
    """One opening as the page shows it.

    Parameters
    ----------
    bowl : Bowl
        The bowl, every input at one value.
    opening : Opening
        Pressed and let go.

    Returns
    -------
    dict
        "states" (name, press, mean rise, corners of every node, and stress over mean strength of every
        element), "base" (its edge), "worst" (element and words), "end" and the board's measures; mm and N.
    """
    elastic = opening.elastic
    wood = _wood_of(bowl, elastic)
    strength = grain_strength(bowl.board.wood, bowl.use.turn_moisture_percent[0], bowl.board.tested_across)
    states = [_state(elastic, state, wood, strength, "pressed") for state in opening.path]
    states[0]["name"] = "flat"
    sunk = opening.pressed.drop_mm >= NEARLY_THROUGH * elastic.seats.thickness_mm
    end, rest = "falls through", opening.rest
    if opening.fell_through:
        states[-1]["name"] = end
    elif opening.released is not None and rest is not None:
        kept = opening.released.kept
        end = "let go" if kept >= KEPT_SHARE else "springs back"
        if kept > 0:
            states.append(_state(elastic, rest, wood, strength, end))
        else:
            end = "slides back out of sight"
    return {
        **_board(elastic),
        "states": states,
        "end": end,
        "worst": _worst(opening.stress),
        "through": np.flatnonzero(sunk).tolist(),
    }


def _wood_of(bowl: Bowl, elastic: ElasticBowl) -> StripWood:
    """Wood along a strip as it was laid out for its opening."""
    laid, wood = laid_out(bowl, rigid_fit(bowl), NODES_PER_TURN)
    if len(laid.strip.position_mm) != len(elastic.strip.position_mm):
        raise OutsideModelError("the opening has other nodes than its bowl: its picture cannot be drawn")
    return wood


def _state(
    elastic: ElasticBowl, state: PressState, wood: StripWood, strength: GrainStrength, name: str
) -> dict[str, Any]:
    corners = strip_corners_mm(elastic, state.shape.position_mm, state.shape.frame)
    stress = strip_stress(elastic, state, wood, strength)
    return {
        "name": name,
        # As they are: rounded twice they would read otherwise than the verdict beside them.
        "press_N": float(state.press_N),
        "rise_mm": float(mean_rise_mm(elastic, state)),
        "corners": _flat(corners),
        "work": _by_element(stress),
    }


def _by_element(stress: StripStress) -> list[float]:
    """Stress over mean strength at the worst section of every element. [-]"""
    greatest = np.zeros(int(stress.element[-1]) + 1)
    np.maximum.at(greatest, stress.element, stress.ratio)
    return [round(float(v), 4) if math.isfinite(v) else 9.99 for v in greatest]


def _worst(stress: StripStress) -> dict[str, Any]:
    worst = stress.worst
    clock = f"{math.degrees(worst.clock_rad):.0f} deg from the grain"
    return {
        "element": int(stress.element[worst.section]),
        "ratio": round(worst.ratio, 4),
        "words": f"turn {worst.turn}, {clock}: {plain_words(worst.cause)}",
    }


def _board(elastic: ElasticBowl) -> dict[str, Any]:
    return {
        "base": _flat(_base_rim_mm(elastic)),
        "thickness_mm": elastic.seats.thickness_mm,
        "nodes_per_turn": elastic.nodes_per_turn,
        "turns": int(elastic.turn.max()),
    }


def _flat(places: Array) -> list[float]:
    """Places as one row of numbers, in their order."""
    found: list[float] = np.round(places, DIGITS).ravel().tolist()
    return found
