"""An emulator of one bowl: what bowls like it do, from some fifty of them pressed on the elastic strip.

The bowls pressed are spread over everything that differs from bowl to bowl (:mod:`fitsim.samples`), wider
than usual, and over the causes of the table that a strip feels, one and two at a time, and a tilt set higher,
which is a remedy. What came of them is fitted by least squares: quadratic in the logarithms of slot, slope of
the bevel, thickness and friction and of the press, square in how unlike the slot is round and along the cut,
with a step for a nail that is missing or too long; and it leans on two numbers of the rigid bowl, the room
left above the seats and the friction left above the slope, where the answers bend. How far it is off is
told by the bowls left out one at a time. A press that nobody can give, or beyond which a turn has fallen
through, is known only to lie beyond: there the fit takes what is to be expected of it (an expectation step
for a censored normal, Dempster, Laird and Rubin, J. R. Stat. Soc. B 39 (1977), from memory).

Stiffness of the wood is no dimension of the fit: a strip twice as stiff under twice the press has the same
shape and twice the stress. A cut begun on, or changed to, the wrong side falls through where it leans the
other way; a few presses say at what.
"""

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from fitsim.arrays import Array, BoolArray, read_only
from fitsim.bowl import Bowl
from fitsim.causes import Cause, CauseChange, causes
from fitsim.drawn import Drawn, Plan, cause_column, dimensions, draw, plan_of
from fitsim.drawnseats import DrawnSeats, drawn_seats
from fitsim.handpress import REACH_N
from fitsim.pressedsamples import PressedSample, press_each, sawn_bowl
from fitsim.samples import unit_cube
from fitsim.strength import SplitChance

__all__ = ["BowlEmulator", "Fitted", "Known", "Whole", "emulator_of", "fitted_rows", "fitted_beyond"]

SAMPLES = 52
"""Bowls pressed, beside those with a bevel leaning the other way: more make explain slower, fewer rougher."""

WIDER = 1.25
"""The usual scatter is spread so many times wider: an emulator should not be asked at its edges."""

EVERY_SAMPLE_REMEDIED = 5
"""One bowl in so many has its tilt set higher, or its bevels roughened, as a remedy would."""

LEAST_RISEN = 0.5
"""States count once the rim has risen this share of what the rigid seats give."""

NOT_FELT = (
    "press_times", "strength_times", "grain_out_times", "thinned_share", "wrong_face", "reversed_to_turn",
    "reversed_from_turn", "nail_split",
)  # fmt: skip
"""Changes no press is spent on: the press is on every path, strength and width are laws, a split end is a
missing nail, and bevels leaning the other way have presses of their own."""

SLOPE_PRIOR, CURVE_PRIOR = 2.0, 0.7
"""Standard deviations that slopes and curvatures of a logarithm are believed to have before any press."""

BEYOND_ROUNDS = 25
BEND = 0.08
"""The room above the seats, and the friction above the slope, count as no less than this share."""

HIGHER = Cause(
    "a tilt set higher", "", 0.1, (CauseChange("tilt_deg", "more", 2.5, 0.5),), False, "estimated", "", ""
)
ROUGHER = Cause(
    "rougher bevels", "", 0.1, (CauseChange("friction_times", "more", 1.4, 0.2),), False, "estimated", "", ""
)


@dataclass(frozen=True, eq=False)
class Fitted:
    """A linear fit of several answers to the same columns.

    Attributes
    ----------
    weights : numpy.ndarray
        Shape (columns, answers).
    sd : numpy.ndarray
        Standard deviation of what is left where a bowl is left out, shape (answers,).
    left : numpy.ndarray
        What is left of each row where its bowl is left out, shape (rows, answers).
    """

    weights: Array
    sd: Array
    left: Array


def fitted_rows(columns: Array, answers: Array, prior_sd: Array, group: Array) -> Fitted:
    """Least squares with believed sizes of the weights, and its error where whole groups are left out.

    Parameters
    ----------
    columns : numpy.ndarray
        Shape (rows, k).
    answers : numpy.ndarray
        Shape (rows, answers).
    prior_sd : numpy.ndarray
        Standard deviation each weight is believed to have about zero; infinite for a constant, shape (k,).
    group : numpy.ndarray
        Which rows belong together and are left out together, shape (rows,).

    Returns
    -------
    Fitted
        The noise that weighs rows against beliefs is what the rows themselves leave, in two rounds.
    """
    ridge = 1 / np.where(np.isfinite(prior_sd), prior_sd, np.inf) ** 2
    noise = 0.1
    for _ in range(2):
        gram = columns.T @ columns + noise**2 * np.diag(ridge + 1e-9)
        inverse = np.linalg.inv(gram)
        weights = inverse @ (columns.T @ answers)
        left = answers - columns @ weights
        noise = max(float(np.sqrt(np.mean(left**2))), 1e-3)
    out = np.empty_like(left)
    for g in np.unique(group):
        mine = group == g
        rows = columns[mine]
        out[mine] = np.linalg.solve(np.eye(mine.sum()) - rows @ inverse @ rows.T, left[mine])
    return Fitted(weights, np.sqrt(np.mean(out**2, axis=0)), out)


def fitted_beyond(columns: Array, answer: Array, beyond: BoolArray, prior_sd: Array) -> Fitted:
    """The same of one answer that in some rows is known only to lie beyond.

    Parameters
    ----------
    columns, prior_sd : numpy.ndarray
        As for :func:`fitted_rows`.
    answer : numpy.ndarray
        Answers; where ``beyond``, what they are known to lie beyond, shape (rows,).
    beyond : numpy.ndarray
        Where they do, shape (rows,).

    Returns
    -------
    Fitted
        The error is that of the rows that are known.
    """
    from scipy.special import log_ndtr

    taken, group = answer[:, None].astype(np.float64), np.arange(len(answer))
    known = ~beyond
    if not known.any():
        weights = np.zeros((columns.shape[1], 1))
        weights[0] = float(answer.max(initial=0.0)) + 1.0
        return Fitted(weights, np.array([0.5]), np.zeros((len(answer), 1)))
    found = fitted_rows(columns, taken, prior_sd, group)
    for _ in range(BEYOND_ROUNDS if beyond.any() else 0):
        sd = max(float(np.sqrt(np.mean(found.left[known] ** 2))), 1e-3)
        middle = columns @ found.weights[:, 0]
        at = (answer - middle) / sd
        # Mean of a normal known to lie above: the middle and sd times density over the part above.
        hazard = np.exp(-(at**2) / 2 - 0.5 * math.log(2 * math.pi) - log_ndtr(-at))
        taken[beyond, 0] = (middle + sd * hazard)[beyond]
        found = fitted_rows(columns, taken, prior_sd, group)
    return replace(found, sd=np.sqrt(np.mean(found.left[known] ** 2, axis=0)))


@dataclass(frozen=True, eq=False)
class Known:
    """What the emulator says of n bowls under a press; arrays of shape (n,) or (n, turns).

    Attributes
    ----------
    mean_drop_mm, deepest_mm : numpy.ndarray
        Drop of each turn round it, its mean and its greatest. [mm]
    rise_mm, uneven_mm : numpy.ndarray
        Rise, and greatest less least height of the rim. [mm]
    stress : numpy.ndarray
        Stress over that of the plan under the press it needs. [-]
    """

    mean_drop_mm: Array
    deepest_mm: Array
    rise_mm: Array
    uneven_mm: Array
    stress: Array


@dataclass(frozen=True, eq=False)
class Whole:
    """How far the emulator is off where a bowl is left out; standard deviations of logarithms.

    Attributes
    ----------
    needed, deepest, rise, stress : float
        Of the press needed, the greatest drops, the rise, the stress. [-]
    drops_alike, drops_each : float
        Of all drops of a bowl alike, and of each beside that. [-]
    uneven : float
        Of the unevenness, over a seat drop. [-]
    """

    needed: float
    deepest: float
    rise: float
    stress: float
    drops_alike: float
    drops_each: float
    uneven: float


@dataclass(frozen=True, eq=False)
class BowlEmulator:
    """What bowls like this one do.

    Attributes
    ----------
    plan : Plan
        The bowl.
    states, needed : Fitted
        Of the states on the way, and of the press needed.
    error : Whole
        How far it is off.
    reversed_log_N : dict[str, numpy.ndarray]
        Logarithm of the press at which a bowl falls whose bevel leans the other way out to each turn
        ("to"), from each turn out ("from"), and all over ("whole"); shape (turns,). [log N]
    split : SplitChance
        Of the plan under the press it needs.
    split_log : float
        Logarithm of its stress over that for 1 in 10.
    range_log_N : tuple[float, float]
        Logarithms of the presses it was fitted between, stiffness taken out. [log N]
    pressed, not_followed : int
        Bowls pressed, and those of them whose strip could not be followed.
    """

    plan: Plan
    states: Fitted
    needed: Fitted
    error: Whole
    reversed_log_N: dict[str, Array]
    split: SplitChance
    split_log: float
    range_log_N: tuple[float, float]
    pressed: int
    not_followed: int

    def needed_log_N(self, at: Array) -> Array:
        """Logarithm of the press needed, stiffness taken out.

        Parameters
        ----------
        at : numpy.ndarray
            From :meth:`coordinates`, shape (n, k).

        Returns
        -------
        numpy.ndarray
            Shape (n,). [log N]
        """
        return np.asarray(_bowl_columns(at) @ self.needed.weights[:, 0])

    def coordinates(self, drawn: Drawn, seats: DrawnSeats) -> Array:
        """Where bowls lie among those pressed.

        Parameters
        ----------
        drawn, seats : Drawn, DrawnSeats
            The bowls and their seats.

        Returns
        -------
        numpy.ndarray
            Shape (n, k). [-]
        """
        return _coordinates(self.plan, drawn, seats)

    def known(self, at: Array, drawn: Drawn, seats: DrawnSeats, press_N: Array) -> Known:
        """What bowls do under a press.

        Parameters
        ----------
        at, drawn, seats : numpy.ndarray, Drawn, DrawnSeats
            The bowls, with :meth:`coordinates`.
        press_N : numpy.ndarray
            How hard each is pressed, shape (n,). [N]

        Returns
        -------
        Known
            Their middles.
        """
        low, high = self.range_log_N
        log_N = np.clip(np.log(press_N / drawn.stiffness), low, high)
        found = _state_columns(_bowl_columns(at), at, log_N) @ self.states.weights
        turns = self.plan.turns
        seat = np.minimum(seats.drop_mm, FAR * drawn.thickness_mm[:, None])
        mean, deep = np.exp(found[:, :turns]), np.exp(found[:, turns : 2 * turns])
        rise, uneven, stress = found[:, 2 * turns :].T
        level = _level_seat_mm(seats, drawn)
        return Known(
            mean_drop_mm=np.minimum(mean * seat, drawn.thickness_mm[:, None]),
            deepest_mm=deep * seat,
            rise_mm=np.exp(rise) * _rigid_rise_mm(self.plan, drawn, seats),
            uneven_mm=np.maximum(uneven, 0.0) * level,
            stress=np.exp(stress - self.split_log) * drawn.stiffness,
        )


FAR = 3.0
"""A seat lower than so many thicknesses counts as that low: it falls through long before."""


def _level_seat_mm(seats: DrawnSeats, drawn: Drawn) -> Array:
    """Mean seat drop, none counted lower than the board is thick. [mm]"""
    right = seats.tangent > 0
    low = np.where(right, np.minimum(seats.drop_mm, drawn.thickness_mm[:, None]), 0.0)
    return np.asarray(low.sum(axis=1) / np.maximum(right.sum(axis=1), 1))


def _rigid_rise_mm(plan: Plan, drawn: Drawn, seats: DrawnSeats) -> Array:
    """Rise with all turns at their seats, those not cut left out. [mm]"""
    cut = np.clip(np.arange(1, plan.turns + 1) - drawn.short[:, None], 0.0, 1.0)
    drops = np.minimum(seats.drop_mm, drawn.thickness_mm[:, None])
    return np.asarray(np.maximum((drops * cut * plan.share).sum(axis=1), 1e-3))


def _coordinates(plan: Plan, drawn: Drawn, seats: DrawnSeats) -> Array:
    """Logarithms over the plan's, and steps; of bowls with some bevels wrong those of the right ones."""
    right = (seats.tangent > 0).astype(np.float64)
    right[right.sum(axis=1) == 0] = 1.0
    weight = right / right.sum(axis=1, keepdims=True)

    def mean(values: Array) -> Array:
        return np.asarray((weight * values).sum(axis=1))

    cosine = np.cos(plan.tilt_rad)
    planned = float(np.mean((plan.kerf_mm - 2 * plan.bowl.use.film_mm) / cosine))
    planned = max(planned, 0.05)
    slope = max(float(np.mean(np.abs(np.tan(plan.tilt_rad)))), 0.005)
    slot = np.maximum(mean(seats.slot_mm), 0.05 * planned)
    tangent = np.maximum(mean(np.abs(seats.tangent)), 0.005)
    apart = (seats.along_mm - seats.across_mm) / 2 / slot[:, None]
    both = mean(apart)
    board, use = plan.bowl.board, plan.bowl.use
    friction = max(use.friction, 0.02)
    room = np.maximum(drawn.thickness_mm * tangent / slot - 1, BEND)
    planned_room = max(board.thickness_mm * slope / planned - 1, BEND)
    grip = np.maximum(drawn.friction / tangent - 1, BEND)
    planned_grip = max(friction / slope - 1, BEND)
    columns = [
        np.log(slot / planned),
        np.log(tangent / slope),
        np.log(drawn.thickness_mm / board.thickness_mm),
        np.log(drawn.friction / friction),
        np.log(room / planned_room),
        np.log(grip / planned_grip),
        np.clip(both, -1.5, 1.5),
        np.clip(apart[:, 0] - both, -1.5, 1.5),
        np.clip(seats.slot_mm[:, 0] / slot - 1, -1.5, 1.5),
        drawn.short,
        ((drawn.nail == 1) | (drawn.nail == 2)).astype(np.float64),
        (drawn.nail == 3).astype(np.float64),
        np.minimum(drawn.wander_mm / slot, 1.0),
    ]
    return np.column_stack(columns)


CURVED, SQUARED, BENT = (0, 1, 2, 3), (6, 7, 8), (4, 5)
WITH_PRESS = (0, 1, 2, 3, 4, 5, 10)
"""Coordinates that are fitted with all products, with squares alone, none; and with the press."""


def _bowl_columns(at: Array) -> Array:
    products = [at[:, i] * at[:, j] for n, i in enumerate(CURVED) for j in CURVED[n:]]
    squares = [at[:, i] ** 2 for i in SQUARED]
    return np.column_stack([np.ones(len(at)), at, *products, *squares])


def _bowl_prior(k: int) -> Array:
    curved = len(CURVED) * (len(CURVED) + 1) // 2
    return np.r_[np.inf, np.full(k, SLOPE_PRIOR), np.full(curved + len(SQUARED), CURVE_PRIOR)]


def _state_columns(bowl: Array, at: Array, log_N: Array) -> Array:
    p = (log_N - PRESS_MIDDLE_LOG)[:, None]
    return np.hstack([bowl, p, p**2, p**3, p * at[:, WITH_PRESS]])


def _state_prior(k: int) -> Array:
    more = [SLOPE_PRIOR, CURVE_PRIOR, CURVE_PRIOR / 2, *[CURVE_PRIOR] * len(WITH_PRESS)]
    return np.r_[_bowl_prior(k), more]


PRESS_MIDDLE_LOG = math.log(60.0)
"""Presses are counted from here in the fit."""


def emulator_of(plan: Plan, *, processes: int | None = None) -> BowlEmulator:
    """Press bowls like this one and fit what came of them; kept for the next question about it.

    Parameters
    ----------
    plan : Plan
        The bowl.
    processes : int or None
        Presses at once; None: as many as there are processors. The answer does not depend on it.

    Returns
    -------
    BowlEmulator
        Ready to be asked.
    """
    return _emulator(replace(plan.bowl, assumptions=(), notes=(), name="", units="mm"), processes)


@lru_cache(maxsize=8)
def _emulator(bowl: Bowl, processes: int | None) -> BowlEmulator:
    plan = plan_of(bowl)
    drawn = _design(plan)
    hands = float(np.max(drawn.hands_N))
    reach = min(max(1.3 * hands, 150.0), REACH_N)
    wrong = _wrong_bevels(plan)
    jobs = [
        (sawn_bowl(plan, drawn, i), float(reach * drawn.stiffness[i]), plan.turns, True)
        for i in range(len(drawn.friction))
    ]
    jobs += [(sawn_bowl(plan, each, 0), reach, plan.turns, False) for _, _, each in wrong]
    found = press_each(jobs, processes=processes)
    samples, others = found[: len(drawn.friction)], found[len(drawn.friction) :]
    return _fitted(plan, drawn, samples, _falls_log_N(plan, wrong, others), reach)


def _design(plan: Plan) -> Drawn:
    """The bowls to press: the plan itself, then scatter with one cause, two, or a remedy."""
    from scipy.special import ndtri

    felt = [
        cause
        for cause in causes()
        if not any(change.quantity in NOT_FELT for change in cause.changes)
    ]
    z = WIDER * ndtri(np.clip(unit_cube(dimensions(plan), SAMPLES, seed=15), 1e-3, 1 - 1e-3))
    z[0] = 0.0
    at = cause_column(plan)
    rows = []
    for i, row in enumerate(z):
        acting: list[Cause] = [] if i == 0 else [felt[i % len(felt)]]
        if i % 2 and i > len(felt):
            acting.append(felt[(i * 5 + 3) % len(felt)])
        if i % EVERY_SAMPLE_REMEDIED == EVERY_SAMPLE_REMEDIED - 1:
            acting = [HIGHER if i % 2 else ROUGHER, *acting[:1]]
        row[at] = np.clip(row[at], -1.8, 1.8)
        row[at + 2] = np.clip(row[at + 2], -1.8, 1.8)
        rows.append(draw(plan, row[None], tuple(acting[:2])))
    return _joined(rows)


def _joined(rows: list[Drawn]) -> Drawn:
    return Drawn(**{name: np.concatenate([getattr(r, name) for r in rows]) for name in vars(rows[0])})


def _wrong_bevels(plan: Plan) -> list[tuple[str, int, Drawn]]:
    """Plans whose bevel leans the other way, out to some turns and from some turns out, and all over."""
    plain = draw(plan, np.zeros((1, dimensions(plan))), (), scatter=_nothing(plan))
    turn = np.arange(1, plan.turns + 1)
    places = sorted({1, (plan.turns + 1) // 2, plan.turns - 1} - {0})
    found = [("whole", plan.turns, replace(plain, tilt_rad=-plain.tilt_rad))]
    for j in places:
        inside = turn <= j
        found.append(("to", j, replace(plain, tilt_rad=np.where(inside, -1, 1) * plain.tilt_rad)))
        found.append(("from", j, replace(plain, tilt_rad=np.where(inside, 1, -1) * plain.tilt_rad)))
    return found
