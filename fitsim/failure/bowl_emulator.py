"""An emulator of one bowl: what bowls like it do all along a press, from some fifty pressed on the strip.

The bowls pressed are spread over everything that differs from bowl to bowl, wider than usual
(:mod:`fitsim.tolerances.samples`), over the causes of the table that a strip feels, one and two at a time,
and over more tilt and rougher bevels, which are remedies. What came of them is fitted by least squares:
quadratic in the logarithms of slot, slope of the bevel, thickness and friction, cubic in that of the press,
square in how unlike the slot is round and along the cut, with a step for a nail that is too long; and it
leans on two numbers of the rigid bowl, the room left above the seats and the friction left above the slope,
where the answers bend. How far it is off is told by the bowls left out one at a time. A press that nobody
can give, or beyond which a turn has fallen through, is known only to lie beyond: there the fit takes what
is to be expected of it (the expectation step for a censored normal, Dempster, Laird and Rubin, J. R. Stat.
Soc. B 39 (1977), from memory).

It is not the surface of :mod:`fitsim.tolerances.press_surface`, which answers at the one press a bowl is
judged at: one path of a strip gives answers at many presses, which hang together, some are known only to
lie beyond, and explaining asks for a hundred thousand bowls, for which a list of columns is multiplied out
faster than a kernel.

Stiffness of the wood is no dimension of the fit: a strip twice as stiff under twice the press has the same
shape and twice the stress. A cut begun on, or changed to, the wrong side falls through where it leans the
other way, and so may a free end that nothing holds; a few presses say at what.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from fitsim.arrays import Array, BoolArray, IntArray, read_only
from fitsim.bowl.hand_press import REACH_N
from fitsim.bowl.inputs import Bowl, BowlPhysics, Uncertain, bowl_from_physics
from fitsim.bowl.judgement import Judgement, judge_bowl
from fitsim.failure.causes import Cause, CauseChange, causes
from fitsim.failure.failed_samples import BowlPlan, Samples, as_planned, dimensions, draw, plan_of
from fitsim.failure.pressed_samples import (
    PressedSample,
    PressJob,
    press_each,
    pressing_processes,
    sawn_bowl,
)
from fitsim.failure.sample_seats import SampleSeats, sample_seats
from fitsim.tolerances.samples import unit_cube
from fitsim.wood.strength import MODES, SplitChance, grain_strength, split_chance

__all__ = [
    "BowlEmulator",
    "Coordinates",
    "Fitted",
    "Known",
    "Planned",
    "Whole",
    "emulator_of",
    "fitted_beyond",
    "fitted_rows",
    "rigid_emulator",
]

Progress = Callable[[int, int], None]

SAMPLES, FEWER_SAMPLES, MANY_TURNS = 42, 32, 7
"""Bowls pressed, beside those with wrong bevels: more make explain slower, fewer make it rougher. Fewer are
pressed of a bowl of more turns than the last of the three, whose presses take longer."""

WIDER = 1.25
"""The usual scatter is spread so many times wider: an emulator should not be asked at its edges."""

FARTHEST = 1.9
"""No further than so many standard deviations from the middle, of scatter and of the size of a cause."""

MOST_SHORT = 1.5
"""Turns not cut, at most: what is left of a bowl of few turns is another bowl."""

EVERY_SAMPLE_REMEDIED = 5
"""One bowl in so many has its tilt set higher, or its bevels roughened, as a remedy would."""

REACH_NEEDED, REACH_HANDS, LEAST_REACH_N = 5.0, 1.3, 100.0
"""Bowls are pressed to so many times what the plan needs, or what the strongest of the makers can push if
that is less, and to no less than this."""

LEAST_SAMPLES = 12
"""With fewer no fit is made."""

LEAST_RISEN = 0.5
"""States count once the rim has risen this share of what the rigid seats give."""

NOT_FELT = (
    "press_times", "strength_times", "grain_out_times", "thinned_share", "wrong_face", "reversed_to_turn",
    "reversed_from_turn", "nail_missing", "nail_split",
)  # fmt: skip
"""Changes that no bowl of the fit has: the press is on every path, strength and width are laws; bevels
leaning the other way and a nail that does not hold have presses of their own."""

SLOPE_PRIOR, CURVE_PRIOR = 2.0, 0.7
"""Standard deviations that slopes and curvatures of a logarithm are believed to have before any press."""

BEYOND_ROUNDS, FAR_OFF = 25, 4.0
"""Rounds of the fit of what is known to lie beyond, and from how many standard deviations on a bowl counts
for less than half."""

WIDEST = 1.1
"""A slot wider or narrower by this than the plan's (logarithm) counts as that: nothing wider is pressed."""

BEND = 0.08
"""The room above the seats, and the friction above the slope, count as no less than this share."""

HIGHER = Cause(
    "a tilt set higher", "", 0.1, (CauseChange("tilt_deg", "more", 2.5, 0.5),), False, "estimated", "", ""
)
ROUGHER = Cause(
    "rougher bevels",
    "",
    0.1,
    (CauseChange("friction_times", "more", 1.4, 0.2),),
    False,
    "estimated",
    "",
    "",
)


@dataclass(frozen=True, eq=False)
class Fitted:
    """A linear fit of several answers to the same columns.

    Attributes
    ----------
    weights : numpy.ndarray
        What each column adds to each answer, shape (columns, answers). [unit of answer over column]
    sd : numpy.ndarray
        Standard deviation of what is left where a bowl is left out, shape (answers,). [unit of the answer]
    left : numpy.ndarray
        What is left of each row where its bowl is left out, shape (rows, answers). [unit of the answer]
    """

    weights: Array
    sd: Array
    left: Array


def fitted_rows(columns: Array, answers: Array, prior_sd: Array, group: IntArray) -> Fitted:
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
        The error is that of the rows that are known, each as much as it counts.
    """
    from scipy.special import log_ndtr

    taken, group = answer[:, None].astype(np.float64), np.arange(len(answer))
    known = ~beyond
    if not known.any():
        weights = np.zeros((columns.shape[1], 1))
        weights[0] = float(answer.max(initial=0.0)) + 1.0
        return Fitted(weights, np.array([0.5]), np.zeros((len(answer), 1)))
    weight = np.ones(len(answer))
    for _ in range(BEYOND_ROUNDS):
        root = np.sqrt(weight)[:, None]
        found = fitted_rows(root * columns, root * taken, prior_sd, group)
        middle, left = columns @ found.weights[:, 0], found.left[:, 0] / root[:, 0]
        sd = max(float(np.sqrt(np.sum((weight * left**2)[known]) / weight[known].sum())), 1e-3)
        # A bowl now and then is unlike all others: the farther off, the less it counts (a Student's t).
        weight = np.where(known, 1 / (1 + (left / (FAR_OFF * sd)) ** 2), 1.0)
        # Mean of a normal known to lie above: the middle and sd times density over the part above.
        at = (answer - middle) / sd
        hazard = np.exp(-(at**2) / 2 - 0.5 * math.log(2 * math.pi) - log_ndtr(-at))
        taken[beyond, 0] = (middle + sd * hazard)[beyond]
    return Fitted(found.weights, np.array([sd]), left[:, None])


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


@dataclass(frozen=True)
class Planned:
    """The plan as it is meant to come out.

    Attributes
    ----------
    press_N : float
        The press it is judged at. [N]
    rise_mm : float
        Its rise then. [mm]
    uneven_share : float
        How uneven the spiral makes the rim, over a seat drop. [-]
    """

    press_N: float
    rise_mm: float
    uneven_share: float


@dataclass(frozen=True, eq=False)
class Coordinates:
    """Where bowls lie among those pressed, one row a bowl.

    Attributes
    ----------
    values : numpy.ndarray
        By :data:`COORDINATES`, shape (n, k). [-]
    columns : numpy.ndarray
        Products and squares of them that the fit is made of; several answers are read off the same. [-]
    """

    values: Array
    columns: Array


@dataclass(frozen=True, eq=False)
class BowlEmulator:
    """What bowls like this one do all along a press: their states, depth, rise and stress.

    Attributes
    ----------
    plan : BowlPlan
        The bowl.
    meant : Judgement or None
        How fit judges the plan; None where nobody asked.
    state_weights, needed_weights : numpy.ndarray
        Of the states on the way, by answer, and of the press needed, as :class:`Fitted` has them. [-]
    error : Whole
        How far it is off.
    unlike_log_N : dict[str, numpy.ndarray]
        Logarithm of the press at which a bowl falls whose bevel leans the other way out to each turn
        ("to"), from the turn outside each out ("from"), and all over ("whole"), and with a loose free end
        ("loose"); shape (turns,). [log N]
    split : SplitChance
        Of the plan under the press it needs.
    split_log : float
        Logarithm of its stress over that for 1 in 10. [-]
    range_log_N : tuple[float, float]
        Logarithms of the presses it was fitted between, stiffness taken out. [log N]
    pressed, not_followed : int
        Bowls pressed, those with wrong bevels among them, and those whose strip could not be followed.
    fitted : bool
        False where too few could be pressed: turns then sink to their rigid seats, give or take a lot.
    """

    plan: BowlPlan
    meant: Judgement | None
    state_weights: Array
    needed_weights: Array
    error: Whole
    unlike_log_N: dict[str, Array]
    split: SplitChance
    split_log: float
    range_log_N: tuple[float, float]
    pressed: int
    not_followed: int
    fitted: bool

    @cached_property
    def planned(self) -> "Planned":
        """The plan as it is meant to come out: as fit judges it, if that can be followed."""
        bowl = self.plan.bowl
        samples = as_planned(self.plan)
        seats = sample_seats(self.plan, samples)
        at = self.coordinates(samples, seats)
        press_N, rise_mm = (
            (math.nan, math.nan) if self.meant is None else (self.meant.press_N, self.meant.rise_mm)
        )
        if not math.isfinite(press_N):
            needed = float(np.exp(self.needed_log_N(at)[0]))
            press_N = max(min(bowl.limits.press_spare * needed, bowl.use.press_N), 1e-3)
        known = self.known(at, samples, seats, np.array([press_N]))
        level = float(_level_seat_mm(seats, samples)[0])
        uneven = float(known.uneven_mm[0]) / max(level, 1e-6)
        return Planned(press_N, rise_mm if rise_mm > 0 else float(known.rise_mm[0]), uneven)

    def needed_log_N(self, at: Coordinates) -> Array:
        """Logarithm of the press needed, stiffness taken out.

        Parameters
        ----------
        at : Coordinates
            From :meth:`coordinates`.

        Returns
        -------
        numpy.ndarray
            Shape (n,). [log N]
        """
        return np.asarray(at.columns @ self.needed_weights)

    def coordinates(self, samples: Samples, seats: SampleSeats) -> Coordinates:
        """Where bowls lie among those pressed.

        Parameters
        ----------
        samples, seats : Samples, SampleSeats
            The bowls and their seats.

        Returns
        -------
        Coordinates
            One row a bowl.
        """
        at = _coordinates(self.plan, samples, seats)
        return Coordinates(at, _bowl_columns(at))

    def known(self, at: Coordinates, samples: Samples, seats: SampleSeats, press_N: Array) -> Known:
        """What bowls do under a press.

        Parameters
        ----------
        at, samples, seats : Coordinates, Samples, SampleSeats
            The bowls, with :meth:`coordinates`.
        press_N : numpy.ndarray
            How hard each is pressed, shape (n,). [N]

        Returns
        -------
        Known
            Their middles.
        """
        low, high = self.range_log_N
        log_N = np.clip(np.log(press_N / samples.stiffness), low, high)
        found = _state_columns(at.columns, at.values, log_N) @ self.state_weights
        turns = self.plan.turns
        seat = np.minimum(seats.drop_mm, FAR * samples.thickness_mm[:, None])
        mean, deep = np.exp(found[:, :turns]), np.exp(found[:, turns : 2 * turns])
        rise, uneven, stress = found[:, 2 * turns :].T
        level = _level_seat_mm(seats, samples)
        return Known(
            mean_drop_mm=np.minimum(mean * seat, samples.thickness_mm[:, None]),
            deepest_mm=deep * seat,
            rise_mm=np.exp(rise) * _rigid_rise_mm(self.plan, samples, seats),
            uneven_mm=np.maximum(uneven, 0.0) * level,
            stress=np.exp(stress - self.split_log) * samples.stiffness,
        )

    def falls_N(self, at: Coordinates, samples: Samples, seats: SampleSeats) -> Array:
        """The press at which a turn has sunk as deep as the board is thick.

        Parameters
        ----------
        at, samples, seats : Coordinates, Samples, SampleSeats
            The bowls, with :meth:`coordinates`; bevels that lean the other way are no part of this.

        Returns
        -------
        numpy.ndarray
            Infinite where none does under the presses the fit knows, shape (n,). [N]
        """
        turns, (low, high) = self.plan.turns, self.range_log_N
        right = seats.tangent > 0
        seat = np.where(right, np.minimum(seats.drop_mm, FAR * samples.thickness_mm[:, None]), 1e-3)
        level = np.log(np.maximum(seat, 1e-3) / samples.thickness_mm[:, None])
        bowl = at.columns
        weights = self.state_weights[:, turns : 2 * turns]
        # The depths as polynomials in the press, `_state_columns` times the weights.
        own, linear, square, cubic, with_press = np.split(weights, np.cumsum([bowl.shape[1], 1, 1, 1]))
        still, grows = bowl @ own + level, linear + at.values[:, WITH_PRESS] @ with_press
        falls, before = np.full(len(bowl), np.inf), np.full(len(bowl), np.nan)
        steps = np.linspace(low, high, FALL_STEPS)
        for log_N in steps.tolist():
            p = log_N - PRESS_MIDDLE_LOG
            over = (still + p * (grows + p * (square + p * cubic))).max(axis=1)
            with np.errstate(invalid="ignore"):
                part = np.where(np.isnan(before), 1.0, over / np.maximum(over - before, 1e-9))
            new = np.isinf(falls) & (over >= 0)
            falls[new] = np.exp(log_N - np.clip(part[new], 0.0, 1.0) * (steps[1] - steps[0]))
            before = over
        return falls * samples.stiffness


FALL_STEPS = 8
FAR = 3.0
"""A seat lower than so many thicknesses counts as that low: it falls through long before."""


def _level_seat_mm(seats: SampleSeats, samples: Samples) -> Array:
    """Mean seat drop, none counted lower than the board is thick. [mm]"""
    right = seats.tangent > 0
    low = np.where(right, np.minimum(seats.drop_mm, samples.thickness_mm[:, None]), 0.0)
    return np.asarray(low.sum(axis=1) / np.maximum(right.sum(axis=1), 1))


def _rigid_rise_mm(plan: BowlPlan, samples: Samples, seats: SampleSeats) -> Array:
    """Rise with all turns at their seats, those not cut left out. [mm]"""
    cut = np.clip(np.arange(1, plan.turns + 1) - samples.short[:, None], 0.0, 1.0)
    drops = np.minimum(seats.drop_mm, samples.thickness_mm[:, None])
    return np.asarray(np.maximum((drops * cut * plan.share).sum(axis=1), 1e-3))


def _coordinates(plan: BowlPlan, samples: Samples, seats: SampleSeats) -> Array:
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
    room = np.maximum(samples.thickness_mm * tangent / slot - 1, BEND)
    planned_room = max(board.thickness_mm * slope / planned - 1, BEND)
    grip = np.maximum(samples.friction / tangent - 1, BEND)
    planned_grip = max(friction / slope - 1, BEND)
    columns = [
        np.clip(np.log(slot / planned), -WIDEST, WIDEST),
        np.log(tangent / slope),
        np.log(samples.thickness_mm / board.thickness_mm),
        np.log(samples.friction / friction),
        np.log(room / planned_room),
        np.log(grip / planned_grip),
        np.clip(both, -1.5, 1.5),
        np.clip(apart[:, 0] - both, -1.5, 1.5),
        np.clip(seats.slot_mm[:, 0] / slot - 1, -1.5, 1.5),
        np.minimum(samples.short, MOST_SHORT),
        (samples.nail == 3).astype(np.float64),
        np.minimum(samples.wander_mm / slot, 1.0),
        np.log(samples.across),
    ]
    return np.column_stack(columns)


COORDINATES = (
    "slot",
    "slope of the bevel",
    "thickness",
    "friction",
    "room above the seats",
    "friction above the slope",
    "slot along less across",
    "that of the innermost turn",
    "slot of the innermost turn",
    "turns not cut",
    "pinned turn",
    "wander",
    "strength across the grain",
)
"""What bowls differ by, for the emulator; logarithms, shares and steps."""

CURVED, SQUARED = (0, 1, 2, 3), (6, 7, 8)
WITH_PRESS = (0, 1, 2, 3, 4, 5)
"""Coordinates that are fitted with all products, with squares alone, none; and with the press."""


def _bowl_columns(at: Array) -> Array:
    products = [at[:, i] * at[:, j] for n, i in enumerate(CURVED) for j in CURVED[n:]]
    squares = [at[:, i] ** 2 for i in SQUARED]
    columns: Array = np.column_stack([np.ones(len(at)), at, *products, *squares])
    return columns


def _bowl_prior(k: int) -> Array:
    curved = len(CURVED) * (len(CURVED) + 1) // 2
    curves = [CURVE_PRIOR] * (curved + len(SQUARED))
    return np.array([math.inf, *[SLOPE_PRIOR] * k, *curves])


def _state_columns(bowl: Array, at: Array, log_N: Array) -> Array:
    p = (log_N - PRESS_MIDDLE_LOG)[:, None]
    columns: Array = np.hstack([bowl, p, p**2, p**3, p * at[:, WITH_PRESS]])
    return columns


def _state_prior(k: int) -> Array:
    more = [SLOPE_PRIOR, CURVE_PRIOR, CURVE_PRIOR / 2, *[CURVE_PRIOR] * len(WITH_PRESS)]
    return np.array([*_bowl_prior(k).tolist(), *more])


PRESS_MIDDLE_LOG = math.log(60.0)
"""Presses are counted from here in the fit."""


def emulator_of(plan: BowlPlan, *, progress: Progress | None = None) -> BowlEmulator:
    """Press bowls like this one and fit what came of them; kept for the next question about it.

    Parameters
    ----------
    plan : BowlPlan
        The bowl.
    progress : callable or None
        Called with how many bowls are pressed, and of how many.

    Returns
    -------
    BowlEmulator
        Ready to be asked.
    """
    known = (plan.bowl.physics, plan.bowl.uncertain)
    if known not in _KEPT:
        while len(_KEPT) >= MOST_KEPT:
            del _KEPT[next(iter(_KEPT))]
        _KEPT[known] = _emulator(bowl_from_physics(*known), progress)
    return _KEPT[known]


MOST_KEPT = 8
_KEPT: dict[tuple[BowlPhysics, tuple[Uncertain, ...]], BowlEmulator] = {}


def _emulator(bowl: Bowl, progress: Progress | None) -> BowlEmulator:
    plan = plan_of(bowl)
    samples = _design(plan)
    presses, unlike = len(samples.friction), _unlike(plan)
    count = presses + len(unlike)
    hands = min(max(REACH_HANDS * float(np.max(samples.hands_N)), LEAST_REACH_N), REACH_N)
    done = 0

    def told(more: int) -> None:
        if progress is not None:
            progress(done + more, count)

    with pressing_processes(count) as pool:
        (meant,) = press_each([PressJob(sawn_bowl(plan, samples, 0), hands, plan.turns)])
        found = [meant]
        near_N = meant.needed_N if meant is not None and math.isfinite(meant.needed_N) else None
        reach = hands if near_N is None else min(max(REACH_NEEDED * near_N, LEAST_REACH_N), hands)
        jobs = [
            PressJob(
                sawn_bowl(plan, samples, i),
                min(float(samples.stiffness[i]) * reach, REACH_N),
                plan.turns,
            )
            for i in range(1, presses)
        ]
        done = 1
        found += press_each(jobs, pool, progress=told)
        done = presses
        jobs = [PressJob(sawn_bowl(plan, d, 0), reach, plan.turns, let_go=False) for _, _, d in unlike]
        others = press_each(jobs, pool, progress=told)
    falls = _falls_log_N(plan, unlike, others, reach)
    laid = _laid(plan, judge_bowl(bowl), samples, tuple(found), falls)
    # All that were pressed, those with wrong bevels among them, as the progress counted them.
    return replace(laid, pressed=count, not_followed=laid.not_followed + sum(s is None for s in others))


def _design(plan: BowlPlan) -> Samples:
    """The bowls to press: the plan itself, then scatter with one cause, two, or a remedy."""
    from scipy.special import ndtri

    felt = [cause for cause in causes() if not any(change.quantity in NOT_FELT for change in cause.changes)]
    presses = SAMPLES if plan.turns <= MANY_TURNS else FEWER_SAMPLES
    z = np.clip(WIDER * ndtri(unit_cube(dimensions(plan), presses, seed=15)), -FARTHEST, FARTHEST)
    z[0] = 0.0
    rows = []
    for i, row in enumerate(z):
        acting: list[Cause] = [] if i == 0 else [felt[i % len(felt)]]
        if i % 2 and i > len(felt):
            acting.append(felt[(i * 5 + 3) % len(felt)])
        if i % EVERY_SAMPLE_REMEDIED == EVERY_SAMPLE_REMEDIED - 1:
            acting = [HIGHER if i % 2 else ROUGHER, *acting[:1]]
        one = draw(plan, row[None], tuple(acting[:2]))
        rows.append(replace(one, short=np.minimum(one.short, MOST_SHORT)))
    return _joined(rows)


def _joined(rows: list[Samples]) -> Samples:
    return Samples(**{name: np.concatenate([getattr(r, name) for r in rows]) for name in vars(rows[0])})


def _unlike(plan: BowlPlan) -> list[tuple[str, int, Samples]]:
    """Plans with a bevel that leans the other way, to a turn, from one, or all over, or without a nail."""
    plain = as_planned(plan)
    turn = np.arange(1, plan.turns + 1)
    places = sorted({1, (plan.turns + 1) // 2, plan.turns - 1} - {0})
    found = [("whole", plan.turns, replace(plain, tilt_rad=-plain.tilt_rad))]
    for j in places:
        inside = turn <= j
        found.append(("to", j, replace(plain, tilt_rad=np.where(inside, -1, 1) * plain.tilt_rad)))
        found.append(("from", j, replace(plain, tilt_rad=np.where(inside, 1, -1) * plain.tilt_rad)))
    loose = replace(plain, nail=np.ones(1, dtype=np.int64))
    return [*found, ("loose", 1, loose)]


def _falls_log_N(
    plan: BowlPlan,
    wrong: list[tuple[str, int, Samples]],
    found: tuple[PressedSample | None, ...],
    reach_N: float,
) -> dict[str, Array]:
    """Logarithm of the press at which wrong bevels fall, by kind and turn; far beyond where they do not."""
    at: dict[str, dict[int, float]] = {"whole": {}, "to": {}, "from": {}, "loose": {}}
    for (kind, turn, _), sample in zip(wrong, found, strict=True):
        if sample is not None and not sample.shut and len(sample.press_N):
            at[kind][turn] = math.log(sample.press_N[-1]) if sample.fell else math.log(reach_N) + NEVER
    turns, falls = np.arange(1, plan.turns + 1), {}
    for kind, known in at.items():
        # Where none could be followed a bevel that binds nowhere is taken to fall at once.
        places, values = (list(known), list(known.values())) if known else ([1], [AT_ONCE_LOG])
        falls[kind] = read_only(np.interp(turns, places, values))
    return falls


NEVER, AT_ONCE_LOG = 2.0, 0.0


def _laid(
    plan: BowlPlan,
    meant: Judgement,
    samples: Samples,
    presses: tuple[PressedSample | None, ...],
    unlike_log_N: dict[str, Array],
) -> BowlEmulator:
    """Fit what came of the presses."""
    seats = sample_seats(plan, samples)
    at = _coordinates(plan, samples, seats)
    bowl = _bowl_columns(at)
    pressed = {
        i: s
        for i, s in enumerate(presses)
        if s is not None and not s.shut and len(s.press_N) and abs(at[i, 0]) <= WIDEST
    }
    kept = list(pressed)
    lost = sum(s is None for s in presses)
    needed, beyond = _needed_log_N(samples, pressed)
    rows, log_N, answers = _states_answered(plan, samples, seats, pressed)
    if len(set(rows)) < LEAST_SAMPLES:
        return rigid_emulator(
            plan, meant=meant, unlike_log_N=unlike_log_N, pressed=len(presses), not_followed=lost
        )
    state_at = _state_columns(bowl[rows], at[rows], np.array(log_N))
    every, prior, turns = np.array(answers), _state_prior(at.shape[1]), plan.turns
    # The last turn of a bowl cut short is another piece of strip: it tells nothing of single turns.
    whole = samples.short[rows] == 0
    drops = fitted_rows(state_at[whole], every[whole, : 2 * turns], prior, np.array(rows)[whole])
    others = fitted_rows(state_at, every[:, 2 * turns :], prior, np.array(rows))
    press = fitted_beyond(bowl[kept], np.array(needed), np.array(beyond), _bowl_prior(at.shape[1]))
    wanted_log_N = float((_bowl_columns(at[:1]) @ press.weights[:, 0])[0])
    # The plan's own, or that of the bowl most like it that was pressed.
    told = [i for i in kept if any(split is not None for split in pressed[i].splits)]
    like = min(told, key=lambda i: float(np.linalg.norm(at[i] - at[0])))
    stiff = math.log(float(samples.stiffness[like]))
    split, split_log = _split_near(pressed[like], wanted_log_N + stiff, plan.turns)
    split_log -= stiff
    return BowlEmulator(
        plan=plan,
        meant=meant,
        state_weights=read_only(np.hstack([drops.weights, others.weights])),
        needed_weights=read_only(press.weights[:, 0]),
        error=_left_over(press, drops, others, turns),
        unlike_log_N=unlike_log_N,
        split=split,
        split_log=split_log,
        range_log_N=(float(np.min(log_N)), float(np.max(log_N))),
        pressed=len(presses),
        not_followed=lost,
        fitted=True,
    )


def _needed_log_N(samples: Samples, pressed: dict[int, PressedSample]) -> tuple[list[float], list[bool]]:
    """Press each bowl needs, its stiffness taken out, and whether it is more than was tried. [log N]"""
    needed, beyond = [], []
    for i, sample in pressed.items():
        never = not math.isfinite(sample.needed_N)
        log_N = math.log(sample.press_N[-1] if never else sample.needed_N)
        needed.append(log_N - math.log(float(samples.stiffness[i])))
        beyond.append(never)
    return needed, beyond


def _states_answered(
    plan: BowlPlan, samples: Samples, seats: SampleSeats, pressed: dict[int, PressedSample]
) -> tuple[list[int], list[float], list[Array]]:
    """Row of the bowl, press and answers of every state that tells: drops, rise, out of level, stress."""
    rigid, level = _rigid_rise_mm(plan, samples, seats), _level_seat_mm(seats, samples)
    seat = np.minimum(seats.drop_mm, FAR * samples.thickness_mm[:, None])
    # A stub beside the nail falls with the turn inside it; its own drop nobody is asked for.
    told_by = np.arange(plan.turns)
    told_by[plan.turns_with_drop :] -= 1
    rows, log_N, answers = [], [], []
    for i, sample in pressed.items():
        stiff = math.log(float(samples.stiffness[i]))
        for k in range(len(sample.press_N)):
            split = sample.splits[k]
            if split is None or sample.rise_mm[k] < LEAST_RISEN * rigid[i]:
                continue
            rows.append(i)
            log_N.append(math.log(float(sample.press_N[k])) - stiff)
            answers.append(np.concatenate([
                (np.log(np.maximum(sample.mean_drop_mm[k], 0.05) / seat[i]))[told_by],
                (np.log(np.maximum(sample.deepest_mm[k], 0.05) / seat[i]))[told_by],
                [
                    math.log(max(float(sample.rise_mm[k]), 0.1) / rigid[i]),
                    float(sample.uneven_mm[k]) / max(level[i], 0.1),
                    -math.log(max(split.times_to_limit, 1e-6)) - stiff,
                ],
            ]))  # fmt: skip
    return rows, log_N, answers


def _left_over(press: Fitted, drops: Fitted, others: Fitted, turns: int) -> Whole:
    """How far the fits are off; of mean drops what all turns share, and what is each turn's own."""
    each = drops.left[:, :turns]
    alike = each.mean(axis=1)
    return Whole(
        needed=float(press.sd[0]),
        deepest=float(np.sqrt(np.mean(drops.sd[turns:] ** 2))),
        rise=float(others.sd[0]),
        stress=float(others.sd[2]),
        drops_alike=float(np.sqrt(np.mean(alike**2))),
        drops_each=float(np.sqrt(np.mean((each - alike[:, None]) ** 2))),
        uneven=float(others.sd[1]),
    )


ROUGH = Whole(0.7, 0.3, 0.15, 0.4, 0.15, 0.15, 0.3)
"""How far rigid seats are off where no strip could be pressed: estimates."""

TIMES_TO_LIMIT = 2.0
"""Times as hard stresses of the planned bowl would have to be for 1 in 10 to split, where none could be
pressed: an estimate. [-]"""

GRIP_POWER, STRESS_POWER = -1.0, 0.5
"""Without presses the press needed goes with this power of the friction left above the slope, and the
stress with that of the press: estimates."""


def rigid_emulator(
    plan: BowlPlan,
    *,
    meant: Judgement | None = None,
    unlike_log_N: dict[str, Array] | None = None,
    error: Whole = ROUGH,
    pressed: int = 0,
    not_followed: int = 0,
) -> BowlEmulator:
    """Rigid seats in place of presses: where nearly every bowl like this one is shut.

    Parameters
    ----------
    plan : BowlPlan
        The bowl.
    meant : Judgement or None
        How fit judges it.
    unlike_log_N : dict or None
        As of :class:`BowlEmulator`; None: at once. [log N]
    error : Whole
        How far it is off.
    pressed, not_followed : int
        Bowls that were tried.

    Returns
    -------
    BowlEmulator
        Turns sink to their seats; the press needed and splitting are estimates.
    """
    at = np.zeros((1, len(COORDINATES)))
    bowl = _bowl_columns(at)
    weights = np.zeros((_state_columns(bowl, at, np.zeros(1)).shape[1], 2 * plan.turns + 3))
    needed = np.zeros(bowl.shape[1])
    needed[0] = PRESS_MIDDLE_LOG
    needed[1 + COORDINATES.index("friction above the slope")] = GRIP_POWER
    split = _even_split(plan)
    split_log = -math.log(max(split.times_to_limit, 1e-6))
    weights[0, -1], weights[bowl.shape[1], -1] = split_log, STRESS_POWER
    at_once = np.full(plan.turns, AT_ONCE_LOG)
    return BowlEmulator(
        plan=plan,
        meant=meant,
        state_weights=weights,
        needed_weights=needed,
        error=error,
        unlike_log_N=unlike_log_N or dict.fromkeys(("whole", "to", "from", "loose"), at_once),
        split=split,
        split_log=split_log,
        range_log_N=(PRESS_MIDDLE_LOG - 1, PRESS_MIDDLE_LOG + 1),
        pressed=pressed,
        not_followed=not_followed,
        fitted=False,
    )


def _split_near(sample: PressedSample, log_N: float, turns: int) -> tuple[SplitChance, float]:
    """Chance of splitting by turn under the press nearest to one, and the logarithm of its stress."""
    known = {k: split for k, split in enumerate(sample.splits) if split is not None}
    split = known[min(known, key=lambda k: abs(math.log(float(sample.press_N[k])) - log_N))]
    return _of_turns(split, turns), -math.log(max(split.times_to_limit, 1e-6))


def _even_split(plan: BowlPlan) -> SplitChance:
    """An estimate: every turn as apt to split as the next."""
    board = plan.bowl.board
    strength = grain_strength(board.wood, plan.bowl.use.turn_moisture_percent[0], board.tested_across)
    risks = np.zeros((len(MODES), plan.turns))
    risks[0] = 1 / plan.turns
    times = split_chance(risks, strength).times_to_limit
    return split_chance(risks * (times / TIMES_TO_LIMIT) ** strength.shape, strength)


def _of_turns(split: SplitChance, turns: int) -> SplitChance:
    """The same chance told of so many turns: a last turn too short to be one of its own adds nothing."""
    risks = np.zeros((len(split.risks), turns))
    known = min(turns, split.risks.shape[1])
    risks[:, :known] = split.risks[:, :known]
    return replace(split, risks=read_only(risks))
