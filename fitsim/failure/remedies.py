"""The remedy: what to change so that the next bowl locks with 95 percent chance, solved for each cause.

The bowls that explain the failure are sawn again, with a new wander of the kerf: once with the cause done
away with, once with it still there. They are pressed and judged as ``fit`` judges a bowl: with the spare of
its limits beyond what each needs, and no harder than the hands give. For each the tilt on the scale, and
how hard to push, are changed as little as possible until enough of them lock; where nothing reaches that,
the least change that comes close to the best found is given and said to be less. A bowl that split is also
tried with no more than the press that just makes it stay.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array, read_only
from fitsim.failure.cause_chances import CauseChance
from fitsim.failure.explanations import Explanation
from fitsim.failure.failed_samples import Samples, draw, redrawn_columns
from fitsim.failure.matching import noticed_chance
from fitsim.failure.predict import HELD_STATES, LEAST_BEYOND, Predicted, Pressing, predict

__all__ = ["Remedy", "Setting", "outcome_chances", "remedy_for"]

WANTED = 0.95
ROWS = 128
TILT_STEPS_DEG = tuple(0.5 * k for k in range(-4, 13))
MOST_PRESS = 1.2
"""The file says how hard the maker can push; no remedy asks for more than so many times that, an estimate
of how well anyone knows it, and none asks for a harder press where the bowl split."""

HANDS_TIMES = (1.0, MOST_PRESS)
USUAL_PRESS = 0.8
"""The press told is the one that this share of the bowls need no more than, with the spare: our choice."""

LEAST_TILT_RAD = math.radians(1.0)

CLOSE = 0.02
"""Where nothing reaches what is wanted a change within so much of the best is as good: our choice."""

GENTLER_GAINS = 0.04
"""A press without spare is offered for so much more chance, or if it reaches what is wanted: our choice."""

STILL_HOLDS = 0.9
"""It is offered only where so many bowls hold, or as many as planned within a hundredth: our choice."""

GRIPS = (0.0, 0.4)
"""Friction the bevels are brought up to, by chalk or rosin or by leaving them from the saw; 0: as it is."""


@dataclass(frozen=True)
class Setting:
    """A tilt and a press for the next bowl.

    Attributes
    ----------
    scale_tilt_rad : float
        What to set the table's scale to. [rad]
    press_N : float
        How hard it takes to press most of the next bowls. [N]
    hands_times : float
        How hard the maker must be able to push, over what the file has. [-]
    least_friction : float
        Friction the bevels must have at least; 0: as it is. [-]
    chance : float
        Chance that the next bowl locks so. [-]
    hold_chance : float
        Chance that it opens, binds and stays open, split or not. [-]
    rise_share : float
        Mean rise over the rise of the plan. [-]
    otherwise : str
        What most of the others do.
    """

    scale_tilt_rad: float
    press_N: float
    hands_times: float
    least_friction: float
    chance: float
    hold_chance: float
    rise_share: float
    otherwise: str

    @property
    def enough(self) -> bool:
        """Whether the chance asked for is reached."""
        return self.chance >= WANTED


@dataclass(frozen=True)
class Remedy:
    """What to do about one cause.

    Attributes
    ----------
    cures : tuple[str, ...]
        What to do about the cause itself, instructions; none for the plan and none of these.
    as_planned : Setting or None
        The plan's own tilt and press once that is done.
    cured : Setting or None
        The least change of tilt and press beside it; the same where no change is needed.
    still_there : Setting or None
        The least change where the cause stays; None where it would not act again.
    gentler : Setting or None
        For a bowl that split: the cause done away with, and nothing changed but that it is pressed no
        harder than just makes it stay; None where that gains too little.
    """

    cures: tuple[str, ...]
    as_planned: Setting | None
    cured: Setting | None
    still_there: Setting | None
    gentler: Setting | None = None


OUTCOMES = (
    "would not open", "fall through", "spring back", "split", "rock or stand uneven",
    "miss the planned height", "lock",
)  # fmt: skip
"""What the next bowls may do; the columns of :func:`outcome_chances`."""


HEIGHTS = ("came out shallow", "came out deep")


def outcome_chances(explanation: Explanation, now: Predicted) -> Array:
    """Chance that each bowl does each of :data:`OUTCOMES`.

    Parameters
    ----------
    explanation : Explanation
        The explanation, for what the bowl was brought for.
    now : Predicted
        What is predicted of the bowls.

    Returns
    -------
    numpy.ndarray
        Shape (n, 7), each row adding up to 1. [-]
    """
    held, splits = now.state[:, HELD_STATES.index("held")], now.splits.sum(axis=1)
    whole = held * (1 - splits)

    seen = {s.what for s in explanation.observed.seen}
    # A bowl brought because it rocks is mended only when it does not; a shallow one when it is neither
    # shallow nor deep.
    uneven = [what for what in ("rocks", "rim not level") if what in seen]
    wrong = HEIGHTS if seen & set(HEIGHTS) else ()
    level = whole * np.prod([1 - noticed_chance(what, now) for what in uneven], axis=0)
    right = level * np.prod([1 - noticed_chance(what, now) for what in wrong], axis=0)
    return np.column_stack([now.state[:, :3], held * splits, whole - level, level - right, right])


def _next_bowls(explanation: Explanation, told: CauseChance, *, cured: bool) -> Samples | None:
    weight = told.weighing.weighed.weight
    if not weight.any():
        return None
    plan, hypothesis = explanation.plan, told.weighing.hypothesis
    draw_of = np.random.default_rng(np.random.SeedSequence([explanation.seed, 11]))
    at = (np.arange(ROWS) + draw_of.random()) / ROWS
    rows = told.weighing.weighed.points[np.minimum(np.searchsorted(np.cumsum(weight), at), len(weight) - 1)]
    rows = rows.copy()
    # What belongs to the one cut that failed is drawn anew; saw, wood, finish and hands stay.
    anew = redrawn_columns(plan)
    rows[:, anew] = draw_of.standard_normal((ROWS, len(anew)))
    # Where a cause is done away with its place among the columns is kept, so that a second stays the same.
    kept = tuple(replace(c, changes=() if cured or not c.stays else c.changes) for c in hypothesis.causes)
    return draw(plan, rows, kept, broad=hypothesis.broad)


def _with_setting(samples: Samples, *, more_tilt_rad: Array, hands: Array, grip: Array) -> Samples:
    """Every bowl at every setting, one setting after another."""
    n, count = len(samples.friction), len(more_tilt_rad)
    tiled = {
        name: np.tile(value, (count, 1) if value.ndim == 2 else count)
        for name, value in vars(samples).items()
    }
    tiled["tilt_rad"] = read_only(tiled["tilt_rad"] + np.repeat(more_tilt_rad, n)[:, None])
    tiled["friction"] = read_only(np.maximum(tiled["friction"], np.repeat(grip, n)))
    tiled["hands_N"] = read_only(tiled["hands_N"] * np.repeat(hands, n))
    return Samples(**tiled)


def _settings(
    explanation: Explanation, samples: Samples, grips: tuple[float, ...] = GRIPS
) -> list[Setting]:
    """Chance at every setting, the plan's own first, then by how small the change is."""
    plan, cut = explanation.plan, explanation.plan.bowl.cut
    scale = float(np.mean(cut.scale_tilt_rad))
    most = 1.0 if _split_in_use(explanation) else MOST_PRESS
    pairs = [
        (math.radians(deg), times, grip)
        for grip in grips
        for times in HANDS_TIMES
        if times <= most
        for deg in TILT_STEPS_DEG
        if scale + math.radians(deg) >= LEAST_TILT_RAD
    ]
    pairs.sort(key=_change)
    return _tried(explanation, samples, pairs, spare=plan.bowl.limits.press_spare)


def _tried(
    explanation: Explanation, samples: Samples, pairs: list[tuple[float, float, float]], *, spare: float
) -> list[Setting]:
    """What comes of settings, each of more tilt [rad], stronger hands and a least friction."""
    plan = explanation.plan
    more, hands, grip = (np.array(column) for column in zip(*pairs, strict=True))
    bowls = _with_setting(samples, more_tilt_rad=more, hands=hands, grip=grip)
    pressing = Pressing(spare=spare, spare_asked=spare, overlap=plan.bowl.limits.overlap)
    now = predict(explanation.emulator, bowls, pressing=pressing)
    mean = outcome_chances(explanation, now).reshape(len(pairs), -1, len(OUTCOMES)).mean(axis=1)
    height = now.rise_share.reshape(len(pairs), -1).mean(axis=1)
    press = np.quantile(now.readings["press"].reshape(len(pairs), -1), USUAL_PRESS, axis=1)
    scale = float(np.mean(plan.bowl.cut.scale_tilt_rad))
    return [
        Setting(
            scale + tilt, float(force), times, held, float(c[-1]), float(1 - c[:3].sum()), float(high),
            OUTCOMES[int(c[:-1].argmax())],
        )
        for (tilt, times, held), c, high, force in zip(pairs, mean, height, press, strict=True)
    ]  # fmt: skip


def _change(setting: tuple[float, float, float]) -> float:
    """How large a change is, in degrees of tilt.

    To push harder by a tenth counts as 0.4, a grip is six.
    """
    tilt_rad, times, grip = setting
    return abs(math.degrees(tilt_rad)) + 4.0 * math.log(times) + 6 * (grip > 0)


def _least_change(settings: list[Setting]) -> Setting:
    best = max(s.chance for s in settings)
    wanted = WANTED if best >= WANTED else best - CLOSE
    return next(s for s in settings if s.chance >= wanted)


def _gentler(explanation: Explanation, samples: Samples, planned: Setting) -> Setting | None:
    """No more press than just makes it stay, if it is worth it and still holds."""
    (barely,) = _tried(explanation, samples, [(0.0, 1.0, 0.0)], spare=LEAST_BEYOND)
    if barely.hold_chance < min(STILL_HOLDS, planned.hold_chance - 0.01):
        return None
    worth = barely.chance >= planned.chance + GENTLER_GAINS or (barely.enough and not planned.enough)
    return barely if worth else None


def _split_in_use(explanation: Explanation) -> bool:
    """Whether it split where pressing less hard may help: beside the nail it is the nail's doing."""
    return any(s.what == "split" and s.place != "beside the nail" for s in explanation.observed.seen)


def remedy_for(explanation: Explanation, told: CauseChance) -> Remedy:
    """Solve for the remedy of one cause.

    Parameters
    ----------
    explanation : Explanation
        The explanation.
    told : CauseChance
        The cause.

    Returns
    -------
    Remedy
        Instructions and settings.
    """
    causes = told.weighing.hypothesis.causes
    cures = tuple(cause.cure for cause in causes)
    cured = _next_bowls(explanation, told, cured=True)
    if cured is None:
        return Remedy(cures, None, None, None)
    settings = _settings(explanation, cured)
    stays = [cause for cause in causes if cause.stays]
    still = _next_bowls(explanation, told, cured=False) if stays else None
    return Remedy(
        cures=cures,
        as_planned=settings[0],
        cured=_least_change(settings),
        still_there=None if still is None else _least_change(_settings(explanation, still, (0.0,))),
        gentler=_gentler(explanation, cured, settings[0]) if _split_in_use(explanation) else None,
    )
