"""Many bowls like the one that failed, each with its own errors and one or two causes, as arrays.

Every bowl is a row of independent standard normal numbers, so that one way of weighing serves every
cause: first luck (:data:`LUCK` columns), then one wander of an uneven kerf for each turn, then a size and a
place for the first cause and for the second, and last everything that differs when a bowl is sawn again
and again (:mod:`fitsim.tolerances.samples`).
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from fitsim.arrays import Array, IntArray, read_only
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.inputs import Bowl
from fitsim.failure.causes import TIMES, Cause, CauseChange
from fitsim.tolerances.samples import (
    BASE_MOISTURE,
    FILM,
    KERF,
    KERF_ROUND,
    STIFFNESS,
    THICKNESS,
    TILT,
    TURN_MOISTURE,
    Scattered,
    scattered,
    share_in_mean,
)

__all__ = [
    "LOOKS",
    "LUCK",
    "NAIL_WORDS",
    "BowlPlan",
    "Samples",
    "as_planned",
    "cause_column",
    "dimensions",
    "draw",
    "plan_of",
    "redrawn_columns",
    "turn_follows_wander",
]

LUCK = 3
"""Columns of luck: how far the emulator is off on the drops and on the press needed, how far the maker
presses beyond what it takes."""

NAIL_WORDS = ("through one turn", "missing or loose", "split the end", "through two turns")
"""States of the nail, in the order of :attr:`Samples.nail`."""

LOOKS = {
    "nail": NAIL_WORDS,
    "bevels": ("bare wood", "a film on them"),
    "grain": ("along every turn", "runs out of a turn"),
}
"""What is looked at rather than measured, and the words it may be found in."""

LEAST_SHARE = 0.05
THINNEST_SHARE = 0.15
LEAST_FRICTION, MOST_FRICTION = 0.02, 1.2

STUB = 0.3
"""A last turn shorter than this share of a revolution has no drop of its own: the nail holds it where it
was driven in."""


@dataclass(frozen=True, eq=False)
class BowlPlan:
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
    moisture_percent : numpy.ndarray
        Moisture of the base, then of every turn, as the file has them, shape (1 + turns,); wider where
        the file lists the part of the cut beyond the nail as well. [percent]
    usual, broad : Scattered
        How bowls stray from it when nothing goes wrong, and by causes nobody listed.
    """

    bowl: Bowl
    turns: int
    share: Array
    radius_mm: Array
    tilt_rad: Array
    kerf_mm: Array
    width_mm: Array
    moisture_percent: Array
    usual: Scattered
    broad: Scattered

    @property
    def turns_with_drop(self) -> int:
        """Turns whose drop can be told: all but a last one that is a stub beside the nail."""
        return self.turns - int(self.turns > 1 and self.share[-1] < STUB)

    def rim_of(self, moisture_percent: Array) -> Array:
        """Moisture of the rim: of the strip once round from its free end, as in a year where it is kept.

        Parameters
        ----------
        moisture_percent : numpy.ndarray
            Of the base, then of every turn, innermost first, shape (..., 1 + turns or more). [percent]

        Returns
        -------
        numpy.ndarray
            Shape (...,). [percent]
        """
        last, before = moisture_percent[..., self.turns], moisture_percent[..., self.turns - 1]
        share = float(self.share[self.turns - 1]) if self.turns > 1 else 1.0
        return np.asarray(share * last + (1 - share) * before)


@dataclass(frozen=True, eq=False)
class Samples:
    """Bowls with their errors and causes, shape (n,) or (n, turns).

    Attributes
    ----------
    tilt_rad, kerf_mm, width_mm : numpy.ndarray
        By turn; a tilt below zero leans the other way. [rad, mm]
    strength : numpy.ndarray
        By turn, over what wood of its kind and strength across has. [-]
    across : numpy.ndarray
        Strength across the grain over the middle of its range. [-]
    wander_mm : numpy.ndarray
        Standard deviation of the kerf from turn to turn. [mm]
    thickness_mm, film_mm, closed_mm : numpy.ndarray
        Thickness, film on each face, and how far the slot has closed by itself. [mm]
    friction, stiffness : numpy.ndarray
        Friction, and stiffness of the wood over that of its kind. [-]
    hands_N : numpy.ndarray
        How hard the maker can press. [N]
    press_times : numpy.ndarray
        Times as hard as it takes that was pressed, by a cause: 1 where none acts. [-]
    base_percent, rim_percent : numpy.ndarray
        Moisture now of the base and of the outermost turn. [percent]
    meant_percent : numpy.ndarray
        Moisture of base and turns before anything has moved base and rim from there, as
        :attr:`BowlPlan.moisture_percent` has it, shape (n, 1 + turns) or wider. [percent]
    nail : numpy.ndarray
        Place in :data:`NAIL_WORDS`.
    short : numpy.ndarray
        Turns not cut. [-]
    luck, hold_luck, beyond : numpy.ndarray
        How far the emulator is off on this bowl's drops and on the press it needs, and how far the maker
        presses beyond what it takes, in standard deviations. [-]
    """

    tilt_rad: Array
    kerf_mm: Array
    width_mm: Array
    strength: Array
    across: Array
    wander_mm: Array
    thickness_mm: Array
    film_mm: Array
    closed_mm: Array
    friction: Array
    stiffness: Array
    hands_N: Array
    press_times: Array
    base_percent: Array
    rim_percent: Array
    meant_percent: Array
    nail: IntArray
    short: Array
    luck: Array
    hold_luck: Array
    beyond: Array


def plan_of(bowl: Bowl) -> BowlPlan:
    """The plan of a bowl.

    Parameters
    ----------
    bowl : Bowl
        The bowl as its file has it.

    Returns
    -------
    BowlPlan
        With the scatter its file states or leaves to estimates.

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
    return BowlPlan(
        bowl=bowl,
        turns=turns,
        share=rigid.faces.share,
        radius_mm=mean(np.interp(angle, rigid.slot.angle_rad, rigid.slot.radius_mm)),
        tilt_rad=mean(rigid.slot.tilt_rad[place]),
        kerf_mm=mean(rigid.slot.kerf_mm[place]),
        width_mm=mean(np.interp(angle, rigid.strip.angle_rad, rigid.strip.width_mm)),
        moisture_percent=_moisture_of(bowl, turns),
        usual=scattered(bowl),
        broad=scattered(bowl, broad=True),
    )


def _moisture_of(bowl: Bowl, turns: int) -> Array:
    """Moisture of base and turns; one value in the file is that of every turn. [percent]"""
    listed = bowl.use.turn_moisture_percent
    return read_only(
        np.array([bowl.use.base_moisture_percent, *(listed * turns if len(listed) == 1 else listed)])
    )


def dimensions(plan: BowlPlan) -> int:
    """Columns of a row of standard normal numbers.

    Parameters
    ----------
    plan : BowlPlan
        The plan.

    Returns
    -------
    int
        Luck, an uneven kerf's wander of every turn, two causes, the scatter.
    """
    return _scatter_column(plan) + max(len(plan.usual.dimensions), len(plan.broad.dimensions))


def as_planned(plan: BowlPlan, count: int = 1) -> Samples:
    """The plan so many times, everything as the file has it.

    Parameters
    ----------
    plan : BowlPlan
        The plan.
    count : int
        How many.

    Returns
    -------
    Samples
        No error, no cause, no luck.
    """
    bowl, n = plan.bowl, count
    return Samples(
        tilt_rad=np.tile(plan.tilt_rad, (n, 1)),
        kerf_mm=np.tile(plan.kerf_mm, (n, 1)),
        width_mm=np.tile(plan.width_mm, (n, 1)),
        strength=np.ones((n, plan.turns)),
        across=np.ones(n),
        wander_mm=np.full(n, bowl.scatter.kerf_mm),
        thickness_mm=np.full(n, bowl.board.thickness_mm),
        film_mm=np.full(n, bowl.use.film_mm),
        closed_mm=np.zeros(n),
        friction=np.full(n, max(bowl.use.friction, LEAST_FRICTION)),
        stiffness=np.ones(n),
        hands_N=np.full(n, bowl.use.press_N),
        press_times=np.ones(n),
        base_percent=np.full(n, bowl.use.base_moisture_percent),
        rim_percent=np.full(n, float(plan.rim_of(plan.moisture_percent))),
        meant_percent=np.tile(plan.moisture_percent, (n, 1)),
        nail=np.zeros(n, dtype=np.int64),
        short=np.zeros(n),
        luck=np.zeros(n),
        hold_luck=np.zeros(n),
        beyond=np.zeros(n),
    )


def cause_column(plan: BowlPlan) -> int:
    """Column of the size of the first cause; its place follows, then size and place of the second.

    Parameters
    ----------
    plan : BowlPlan
        The plan.

    Returns
    -------
    int
        From 0.
    """
    return LUCK + plan.turns


def _scatter_column(plan: BowlPlan) -> int:
    return cause_column(plan) + 4


def redrawn_columns(plan: BowlPlan) -> list[int]:
    """Columns that belong to one cut alone: saw, wood, finish and hands stay for the next bowl.

    Parameters
    ----------
    plan : BowlPlan
        The plan.

    Returns
    -------
    list[int]
        Wander of the kerf round every turn, and the thickness of the board.
    """
    start = _scatter_column(plan)
    of_one_cut = [
        start + i
        for i, name in enumerate(plan.usual.names)
        if name == THICKNESS or name.startswith(KERF_ROUND)
    ]
    return [*range(LUCK, LUCK + plan.turns), *of_one_cut]


def draw(
    plan: BowlPlan,
    normals: Array,
    causes: tuple[Cause | None, ...],
    *,
    broad: bool = False,
) -> Samples:
    """The bowls at rows of standard normal numbers, with the causes acting.

    Parameters
    ----------
    plan : BowlPlan
        What was meant.
    normals : numpy.ndarray
        Shape (n, :func:`dimensions`).
    causes : tuple[Cause or None, ...]
        Up to two; None keeps the columns of one that is not to act.
    broad : bool
        Everything as wide as it stands for causes nobody listed.

    Returns
    -------
    Samples
        One bowl a row.
    """
    rows = _scattered(plan, normals, plan.broad if broad else plan.usual)
    start = cause_column(plan)
    for i, cause in enumerate(causes):
        size, place = normals[:, start + 2 * i], _place(normals[:, start + 2 * i + 1], plan.turns)
        for change in cause.changes if cause else ():
            ACTS[change.quantity](plan, rows, _size(change, size, plan.turns), place, normals)
    rows["kerf_mm"] = np.maximum(rows["kerf_mm"], LEAST_SHARE * plan.kerf_mm)
    rows["width_mm"] = np.maximum(rows["width_mm"], THINNEST_SHARE * plan.width_mm)
    rows["thickness_mm"] = np.maximum(rows["thickness_mm"], 0.25 * plan.bowl.board.thickness_mm)
    done: dict[str, Any] = {n: read_only(v) if v.dtype.kind == "f" else v for n, v in rows.items()}
    return Samples(**done)


def turn_follows_wander(plan: BowlPlan) -> Array:
    """Standard deviation of a turn's mean kerf over that of the kerf as it wanders along the cut.

    Parameters
    ----------
    plan : BowlPlan
        The plan.

    Returns
    -------
    numpy.ndarray
        Shape (turns,). [-]
    """
    length = 2 * math.pi * plan.radius_mm * plan.share
    return share_in_mean(length, forgets_mm=plan.bowl.scatter.kerf_length_mm)


def _evenly(normal: Array) -> Array:
    from scipy.special import ndtr

    return np.asarray(ndtr(normal))


def _place(normal: Array, turns: int) -> IntArray:
    return np.minimum((_evenly(normal) * turns).astype(np.int64), turns - 1)


def _scattered(plan: BowlPlan, z: Array, scatter: Scattered) -> dict[str, Any]:
    """What differs from bowl to bowl, by the names and places of the samples."""
    from scipy.special import ndtr

    n, bowl, start = len(z), plan.bowl, _scatter_column(plan)
    names = scatter.names
    values = scatter.values(ndtr(z[:, start : start + len(names)]))
    errors = dict(zip(names, values.T, strict=True))
    places = {d.path: v for d, v in zip(scatter.dimensions, values.T, strict=True) if d.path}
    none = np.zeros(n)

    def taken(path: str, meant: float, error: str = "") -> Array:
        return np.asarray(places.get(path, meant + errors.get(error, none)), dtype=np.float64) + none

    cut = bowl.cut
    kerf = np.tile(plan.kerf_mm, (n, 1))
    if "cut.kerf_mm" in places:
        kerf[:] = places["cut.kerf_mm"][:, None]
    offset = taken("cut.scale_offset_rad", cut.scale_offset_rad) - cut.scale_offset_rad
    kerf += (errors.get(KERF, none) + cut.kerf_per_offset_mm_per_rad * offset)[:, None]
    for j in range(plan.turns):
        kerf[:, j] += errors.get(f"{KERF_ROUND}{j + 1}", none)
    wood = bowl.board.wood.tension_across_MPa.value
    across = np.maximum(taken("board.wood.tension_across_MPa", wood) / wood, LEAST_SHARE)
    rim = float(plan.rim_of(plan.moisture_percent))
    return {
        "tilt_rad": plan.tilt_rad + (errors.get(TILT, none) + offset)[:, None],
        "kerf_mm": kerf,
        "width_mm": np.tile(plan.width_mm, (n, 1)),
        "strength": np.ones((n, plan.turns)),
        "across": across,
        "wander_mm": np.full(n, _wander_mm(plan, scatter)),
        "thickness_mm": taken("board.thickness_mm", bowl.board.thickness_mm, THICKNESS),
        "film_mm": np.maximum(taken("use.film_mm", bowl.use.film_mm, FILM), 0.0),
        "closed_mm": np.zeros(n),
        "friction": np.maximum(taken("use.friction", bowl.use.friction), LEAST_FRICTION),
        "stiffness": 1.0 * errors.get(STIFFNESS, np.ones(n)),
        "hands_N": np.maximum(taken("use.press_N", bowl.use.press_N), 1e-3),
        "press_times": np.ones(n),
        "base_percent": _moisture(
            taken("use.base_moisture_percent", bowl.use.base_moisture_percent, BASE_MOISTURE)
        ),
        "rim_percent": _moisture(taken("use.turn_moisture_percent", rim, TURN_MOISTURE)),
        "meant_percent": np.tile(plan.moisture_percent, (n, 1)),
        "nail": np.zeros(n, dtype=np.int64),
        "short": np.zeros(n),
        "luck": z[:, 0].copy(),
        "hold_luck": z[:, 1].copy(),
        "beyond": z[:, 2].copy(),
    }


def _wander_mm(plan: BowlPlan, scatter: Scattered) -> float:
    """Standard deviation of the kerf along the cut, from that of its means round the turns. [mm]"""
    sizes = [d.size for d in scatter.dimensions if d.name.startswith(KERF_ROUND)]
    return max(
        (s / f for s, f in zip(sizes, turn_follows_wander(plan).tolist(), strict=False)), default=0.0
    )


def _moisture(percent: Array) -> Array:
    return np.clip(percent, 2.0, 28.0)


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


Act = Callable[[BowlPlan, dict[str, Any], Array, IntArray, Array], None]


def _add(name: str, factor: float = 1.0) -> Act:
    def act(_plan: BowlPlan, rows: dict[str, Any], size: Array, _place: IntArray, _z: Array) -> None:
        more = factor * size
        rows[name] = rows[name] + (more[:, None] if rows[name].ndim == 2 else more)

    return act


def _multiply(name: str) -> Act:
    def act(_plan: BowlPlan, rows: dict[str, Any], size: Array, _place: IntArray, _z: Array) -> None:
        rows[name] = rows[name] * (size[:, None] if rows[name].ndim == 2 else size)
        if name == "friction":
            rows[name] = np.clip(rows[name], LEAST_FRICTION, MOST_FRICTION)

    return act


def _nail(code: int) -> Act:
    def act(_plan: BowlPlan, rows: dict[str, Any], size: Array, _place: IntArray, _z: Array) -> None:
        rows["nail"] = np.full(len(size), code, dtype=np.int64)

    return act


def _wander(plan: BowlPlan, rows: dict[str, Any], size: Array, _place: IntArray, z: Array) -> None:
    wanders = turn_follows_wander(plan) * z[:, LUCK : LUCK + plan.turns]
    rows["kerf_mm"] = rows["kerf_mm"] + size[:, None] * wanders
    rows["wander_mm"] = np.hypot(rows["wander_mm"], size)


def _kerf_inner(plan: BowlPlan, rows: dict[str, Any], size: Array, _place: IntArray, _z: Array) -> None:
    """Room a blade needs on a curve goes as one over the radius."""
    rows["kerf_mm"] = rows["kerf_mm"] + size[:, None] * plan.radius_mm[0] / plan.radius_mm


def _reversed_to(plan: BowlPlan, rows: dict[str, Any], size: Array, _place: IntArray, _z: Array) -> None:
    """The bevel leans the other way from the base out to this turn, the last that was cut so."""
    inside = np.arange(1, plan.turns + 1) <= size[:, None]
    rows["tilt_rad"] = np.where(inside, -rows["tilt_rad"], rows["tilt_rad"])


def _reversed_from(plan: BowlPlan, rows: dict[str, Any], size: Array, _place: IntArray, _z: Array) -> None:
    """The bevel leans the other way from the rim in to the turn outside this one, the first cut right.

    The cut runs from the rim to the base, so this is a cut begun wrong and put right.
    """
    outside = np.arange(1, plan.turns + 1) > size[:, None]
    rows["tilt_rad"] = np.where(outside, -rows["tilt_rad"], rows["tilt_rad"])


def _wrong_face(_plan: BowlPlan, rows: dict[str, Any], _size: Array, _place: IntArray, _z: Array) -> None:
    rows["tilt_rad"] = -rows["tilt_rad"]


def _thinned(plan: BowlPlan, rows: dict[str, Any], size: Array, place: IntArray, _z: Array) -> None:
    here = np.arange(plan.turns) == place[:, None]
    rows["width_mm"] = np.where(
        here, rows["width_mm"] * (1 - np.minimum(size, 0.85)[:, None]), rows["width_mm"]
    )


def _grain_out(plan: BowlPlan, rows: dict[str, Any], size: Array, place: IntArray, _z: Array) -> None:
    here = np.arange(plan.turns) == place[:, None]
    rows["strength"] = np.where(here, rows["strength"] * size[:, None], rows["strength"])


def _short(plan: BowlPlan, rows: dict[str, Any], size: Array, _place: IntArray, _z: Array) -> None:
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
    "press_times": _multiply("press_times"),
    "strength_times": _multiply("strength"),
}
"""How each quantity of the table of causes acts on the drawn bowls."""
