"""Many bowls like the one that failed, each with its own errors and one or two causes, as arrays.

Every bowl is a row of independent standard normal numbers, so that one way of weighing serves every
cause: first the usual scatter (:data:`USUAL` columns), then one wander of the kerf for each turn, then a
size and a place for the first cause and for the second.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from fitsim.arrays import Array, IntArray, read_only
from fitsim.bowl import Bowl
from fitsim.causes import TIMES, Cause, CauseChange
from fitsim.rigid import rigid_fit
from fitsim.spread import Spread, usual_spread

__all__ = [
    "LOOKS",
    "NAIL_WORDS",
    "USUAL",
    "Drawn",
    "Plan",
    "dimensions",
    "draw",
    "plan_of",
    "turn_follows_wander",
]

USUAL = 10
"""Columns of the usual scatter: tilt, kerf, thickness, friction, film, strength, press, rim, base, luck."""

NAIL_WORDS = ("through one turn", "missing or loose", "split the end", "through two turns")
"""States of the nail, in the order of :attr:`Drawn.nail`."""

LOOKS = {
    "nail": NAIL_WORDS,
    "bevels": ("bare wood", "a film on them"),
    "grain": ("along every turn", "runs out of a turn"),
}
"""What is looked at rather than measured, and the words it may be found in."""

LEAST_SHARE = 0.05
THINNEST_SHARE = 0.15
MOST_FRICTION = 1.2


@dataclass(frozen=True, eq=False)
class Plan:
    """The bowl as it was meant, in the few numbers a closed form needs; arrays of shape (turns,).

    Attributes
    ----------
    bowl : Bowl
        The bowl.
    turns : int
        Turns of the strip.
    share : numpy.ndarray
        Revolutions each covers. [-]
    radius_mm, tilt_rad, kerf_mm, width_mm : numpy.ndarray
        Mean radius of the slot inside each turn, its tilt and kerf, and the strip's mean width.
        [mm, rad]
    spread : Spread
        How far bowls stray from it.
    """

    bowl: Bowl
    turns: int
    share: Array
    radius_mm: Array
    tilt_rad: Array
    kerf_mm: Array
    width_mm: Array
    spread: Spread


@dataclass(frozen=True, eq=False)
class Drawn:
    """Bowls with their errors and causes, shape (n,) or (n, turns).

    Attributes
    ----------
    tilt_rad, kerf_mm, width_mm : numpy.ndarray
        By turn; a tilt below zero leans the other way. [rad, mm]
    strength : numpy.ndarray
        By turn, over the middle of its range. [-]
    wander_mm : numpy.ndarray
        Standard deviation of the kerf from turn to turn. [mm]
    thickness_mm, film_mm, closed_mm : numpy.ndarray
        Thickness, film on each face, and how far the slot has closed by itself. [mm]
    friction : numpy.ndarray
        Friction. [-]
    press_N : numpy.ndarray
        Press. [N]
    base_percent, rim_percent : numpy.ndarray
        Moisture now. [percent]
    nail : numpy.ndarray
        Place in :data:`NAIL_WORDS`.
    short : numpy.ndarray
        Turns not cut.
    luck : numpy.ndarray
        How far the model is off on this bowl's drops, in its own standard deviations. [-]
    """

    tilt_rad: Array
    kerf_mm: Array
    width_mm: Array
    strength: Array
    wander_mm: Array
    thickness_mm: Array
    film_mm: Array
    closed_mm: Array
    friction: Array
    press_N: Array
    base_percent: Array
    rim_percent: Array
    nail: IntArray
    short: Array
    luck: Array


def plan_of(bowl: Bowl) -> Plan:
    """The plan of a bowl.

    Parameters
    ----------
    bowl : Bowl
        The bowl as its file has it.

    Returns
    -------
    Plan
        With the spread its file states or leaves to estimates.

    Raises
    ------
    OutsideModelError
        If the cut leaves no strip.
    """
    rigid = rigid_fit(bowl)
    turn = rigid.faces.turn
    turns = len(rigid.faces.share)

    def mean(values: Array) -> Array:
        return read_only(np.bincount(turn, values, turns) / np.bincount(turn, minlength=turns))

    angle = rigid.faces.angle_rad
    place = np.searchsorted(rigid.slot.angle_rad, angle)
    return Plan(
        bowl=bowl,
        turns=turns,
        share=rigid.faces.share,
        radius_mm=mean(np.interp(angle, rigid.slot.angle_rad, rigid.slot.radius_mm)),
        tilt_rad=mean(rigid.slot.tilt_rad[place]),
        kerf_mm=mean(rigid.slot.kerf_mm[place]),
        width_mm=mean(np.interp(angle, rigid.strip.angle_rad, rigid.strip.width_mm)),
        spread=usual_spread(bowl),
    )


def dimensions(plan: Plan) -> int:
    """Columns of a row of standard normal numbers.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    int
        Usual scatter, wander of every turn, two causes.
    """
    return USUAL + plan.turns + 4


def draw(
    plan: Plan, normals: Array, causes: tuple[Cause | None, ...], *, spread: Spread | None = None
) -> Drawn:
    """The bowls at rows of standard normal numbers, with the causes acting.

    Parameters
    ----------
    plan : Plan
        What was meant.
    normals : numpy.ndarray
        Shape (n, :func:`dimensions`).
    causes : tuple[Cause or None, ...]
        Up to two; None keeps the columns of one that is not to act.
    spread : Spread or None
        In place of the plan's own.

    Returns
    -------
    Drawn
        One bowl a row.
    """
    rows = _scattered(plan, normals, spread or plan.spread)
    start = USUAL + plan.turns
    for i, cause in enumerate(causes):
        size, place = normals[:, start + 2 * i], _place(normals[:, start + 2 * i + 1], plan.turns)
        for change in cause.changes if cause else ():
            ACTS[change.quantity](plan, rows, _size(change, size, plan.turns), place, normals)
    rows["kerf_mm"] = np.maximum(rows["kerf_mm"], LEAST_SHARE * plan.kerf_mm)
    rows["width_mm"] = np.maximum(rows["width_mm"], THINNEST_SHARE * plan.width_mm)
    rows["thickness_mm"] = np.maximum(rows["thickness_mm"], 0.25 * plan.bowl.board.thickness_mm)
    done: dict[str, Any] = {n: read_only(v) if v.dtype.kind == "f" else v for n, v in rows.items()}
    return Drawn(**done)


def turn_follows_wander(plan: Plan) -> Array:
    """Standard deviation of a turn's mean kerf over that of the kerf as it wanders along the cut.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    numpy.ndarray
        For the covariance exp(-s^2/(2 l^2)) and turns that are long beside l, shape (turns,). [-]
    """
    length = plan.bowl.scatter.kerf_length_mm
    return np.sqrt(np.minimum(length / (math.sqrt(2 * math.pi) * plan.radius_mm), 1.0))


def _evenly(normal: Array) -> Array:
    from scipy.special import ndtr

    return np.asarray(ndtr(normal))


def _place(normal: Array, turns: int) -> IntArray:
    return np.minimum((_evenly(normal) * turns).astype(np.int64), turns - 1)


def _scattered(plan: Plan, z: Array, spread: Spread) -> dict[str, Any]:
    n, board, use = len(z), plan.bowl.board, plan.bowl.use
    friction = spread.friction_low + _evenly(z[:, 3]) * (spread.friction_high - spread.friction_low)
    weak, strong = math.log(spread.strength_low), math.log(spread.strength_high)
    strength = np.exp(weak + _evenly(z[:, 5]) * (strong - weak))
    wanders = turn_follows_wander(plan) * z[:, USUAL : USUAL + plan.turns]
    kerf = plan.kerf_mm + spread.kerf_mm * z[:, 1:2] + spread.wander_mm * wanders
    return {
        "tilt_rad": plan.tilt_rad + spread.tilt_rad * z[:, 0:1],
        "kerf_mm": kerf,
        "width_mm": np.tile(plan.width_mm, (n, 1)),
        "strength": np.tile(strength[:, None], (1, plan.turns)),
        "wander_mm": np.full(n, spread.wander_mm),
        "thickness_mm": board.thickness_mm + spread.thickness_mm * z[:, 2],
        "film_mm": np.maximum(use.film_mm + spread.film_mm * z[:, 4], 0.0),
        "closed_mm": np.zeros(n),
        "friction": friction,
        "press_N": use.press_N * np.exp(spread.press_log * z[:, 6]),
        "base_percent": np.clip(use.base_moisture_percent + spread.moisture_points * z[:, 8], 2.0, 28.0),
        "rim_percent": np.clip(
            float(np.mean(use.turn_moisture_percent)) + spread.moisture_points * z[:, 7], 2.0, 28.0
        ),
        "nail": np.zeros(n, dtype=np.int64),
        "short": np.zeros(n),
        "luck": z[:, 9].copy(),
    }


def _size(change: CauseChange, normal: Array, turns: int) -> Array:
    """Sizes of a change; "less" counts down, unless the quantity is multiplied."""
    if change.law == "flag":
        return np.ones(len(normal))
    if change.law == "turn":
        # The turn on whose outer side something changes: not the last, or it was so from the start.
        return (_place(normal, max(turns - 1, 1)) + 1).astype(np.float64)
    if change.law == "either":
        from scipy.special import ndtri

        half = np.clip(np.abs(2 * _evenly(normal) - 1), 1e-9, 1 - 1e-9)
        return np.asarray(np.sign(normal) * change.middle * np.exp(change.spread * ndtri(half)))
    size = change.middle * np.exp(change.spread * normal)
    if change.quantity in TIMES:
        return np.minimum(size, 1.0) if change.law != "more" else np.maximum(size, 1.0)
    return -size if change.law == "less" else size


Act = Callable[[Plan, dict[str, Any], Array, IntArray, Array], None]


def _add(name: str, factor: float = 1.0) -> Act:
    def act(_plan: Plan, rows: dict[str, Any], size: Array, _place: IntArray, _z: Array) -> None:
        more = factor * size
        rows[name] = rows[name] + (more[:, None] if rows[name].ndim == 2 else more)

    return act


def _multiply(name: str) -> Act:
    def act(_plan: Plan, rows: dict[str, Any], size: Array, _place: IntArray, _z: Array) -> None:
        rows[name] = rows[name] * (size[:, None] if rows[name].ndim == 2 else size)
        if name == "friction":
            rows[name] = np.clip(rows[name], 0.02, MOST_FRICTION)

    return act


def _nail(code: int) -> Act:
    def act(_plan: Plan, rows: dict[str, Any], size: Array, _place: IntArray, _z: Array) -> None:
        rows["nail"] = np.full(len(size), code, dtype=np.int64)

    return act


def _wander(plan: Plan, rows: dict[str, Any], size: Array, _place: IntArray, z: Array) -> None:
    wanders = turn_follows_wander(plan) * z[:, USUAL : USUAL + plan.turns]
    rows["kerf_mm"] = rows["kerf_mm"] + size[:, None] * wanders
    rows["wander_mm"] = np.hypot(rows["wander_mm"], size)


def _kerf_inner(plan: Plan, rows: dict[str, Any], size: Array, _place: IntArray, _z: Array) -> None:
    """Room a blade needs on a curve goes as one over the radius."""
    rows["kerf_mm"] = rows["kerf_mm"] + size[:, None] * plan.radius_mm[0] / plan.radius_mm


def _reversed_to(plan: Plan, rows: dict[str, Any], size: Array, _place: IntArray, _z: Array) -> None:
    """The bevel leans the other way from the base out to this turn, the last that was cut so."""
    inside = np.arange(1, plan.turns + 1) <= size[:, None]
    rows["tilt_rad"] = np.where(inside, -rows["tilt_rad"], rows["tilt_rad"])


def _reversed_from(plan: Plan, rows: dict[str, Any], size: Array, _place: IntArray, _z: Array) -> None:
    """The bevel leans the other way from the rim in to the turn outside this one, the first cut right.

    The cut runs from the rim to the base, so this is a cut begun wrong and put right.
    """
    outside = np.arange(1, plan.turns + 1) > size[:, None]
    rows["tilt_rad"] = np.where(outside, -rows["tilt_rad"], rows["tilt_rad"])


def _wrong_face(_plan: Plan, rows: dict[str, Any], _size: Array, _place: IntArray, _z: Array) -> None:
    rows["tilt_rad"] = -rows["tilt_rad"]


def _thinned(plan: Plan, rows: dict[str, Any], size: Array, place: IntArray, _z: Array) -> None:
    here = np.arange(plan.turns) == place[:, None]
    rows["width_mm"] = np.where(
        here, rows["width_mm"] * (1 - np.minimum(size, 0.85)[:, None]), rows["width_mm"]
    )


def _grain_out(plan: Plan, rows: dict[str, Any], size: Array, place: IntArray, _z: Array) -> None:
    here = np.arange(plan.turns) == place[:, None]
    rows["strength"] = np.where(here, rows["strength"] * size[:, None], rows["strength"])


def _short(plan: Plan, rows: dict[str, Any], size: Array, _place: IntArray, _z: Array) -> None:
    rows["short"] = rows["short"] + np.minimum(size, plan.turns - 1.0)


ACTS: dict[str, Act] = {
    "tilt_deg": _add("tilt_rad", math.pi / 180),
    "kerf_mm": _add("kerf_mm"),
    "kerf_times": _multiply("kerf_mm"),
    "kerf_wander_mm": _wander,
    "kerf_inner_mm": _kerf_inner,
    "thickness_mm": _add("thickness_mm"),
    "reversed_to_turn": _reversed_to,
    "reversed_from_turn": _reversed_from,
    "wrong_face": _wrong_face,
    "nail_missing": _nail(1),
    "nail_split": _nail(2),
    "nail_pins_next": _nail(3),
    "turns_short": _short,
    "thinned_share": _thinned,
    "friction_times": _multiply("friction"),
    "film_mm": _add("film_mm"),
    "rim_points": _add("rim_percent"),
    "slot_closed_mm": _add("closed_mm"),
    "grain_out_times": _grain_out,
    "press_times": _multiply("press_N"),
    "strength_times": _multiply("strength"),
}
"""How each quantity of the table of causes acts on the drawn bowls."""
