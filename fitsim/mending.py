"""The remedy: what to change so that the next bowl locks with 95 percent chance, solved for each cause.

The bowls that explain the failure are sawn again, with a new wander of the kerf: once with the cause done
away with, once with it still there. For each the tilt on the scale, and the press, are changed as little as
possible until enough of them lock; where nothing reaches that, the best found is given and said to be less.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array, read_only
from fitsim.causechance import CauseChance
from fitsim.drawn import USUAL, Drawn, Plan, draw
from fitsim.explain import Explanation
from fitsim.foretell import HELD_STATES, foretell
from fitsim.odds import noticed_chance

__all__ = ["Remedy", "Setting", "outcome_chances", "remedy_for"]

WANTED = 0.95
ROWS = 128
TILT_STEPS_DEG = tuple(0.5 * k for k in range(-4, 13))
PRESS_SHARES = (1.0, 0.7, 1.5)
LEAST_TILT_RAD = math.radians(1.0)

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
        How hard to press. [N]
    least_friction : float
        Friction the bevels must have at least; 0: as it is. [-]
    chance : float
        Chance that the next bowl locks so. [-]
    otherwise : str
        What most of the others do.
    """

    scale_tilt_rad: float
    press_N: float
    least_friction: float
    chance: float
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
    """

    cures: tuple[str, ...]
    as_planned: Setting | None
    cured: Setting | None
    still_there: Setting | None


OUTCOMES = ("would not open", "fall through", "spring back", "split", "rock or stand uneven", "lock")
"""What the next bowls may do; the columns of :func:`outcome_chances`."""


def outcome_chances(plan: Plan, explanation: Explanation, drawn: Drawn) -> Array:
    """Chance that each drawn bowl does each of :data:`OUTCOMES`.

    Parameters
    ----------
    plan, explanation : Plan, Explanation
        What was meant, and the press everything is corrected by.
    drawn : Drawn
        The bowls.

    Returns
    -------
    numpy.ndarray
        Shape (n, 6), each row adding up to 1. [-]
    """
    now = foretell(plan, explanation.anchor, drawn, least_overlap=plan.bowl.limits.overlap)
    held, splits = now.state[:, HELD_STATES.index("held")], now.splits.sum(axis=1)
    whole = held * (1 - splits)
    level = np.ones(len(held))
    for what in ("rocks", "rim not level"):
        # A bowl brought because it rocks is mended only when it does not.
        if what in {s.what for s in explanation.observed.seen}:
            level *= 1 - noticed_chance(what, now)
    return np.column_stack([now.state[:, :3], held * splits, whole * (1 - level), whole * level])


def _next_bowls(explanation: Explanation, told: CauseChance, *, cured: bool) -> Drawn | None:
    weight = told.weighing.weighed.weight
    if not weight.any():
        return None
    plan, hypothesis = explanation.plan, told.weighing.hypothesis
    draw_of = np.random.default_rng(np.random.SeedSequence([explanation.seed, 11]))
    at = (np.arange(ROWS) + draw_of.random()) / ROWS
    rows = told.weighing.weighed.points[np.minimum(np.searchsorted(np.cumsum(weight), at), len(weight) - 1)]
    rows = rows.copy()
    rows[:, USUAL : USUAL + plan.turns] = draw_of.standard_normal((ROWS, plan.turns))
    # What belongs to the one cut that failed is drawn anew; saw, wood, finish and hands stay.
    rows[:, 2] = draw_of.standard_normal(ROWS)
    # Where a cause is done away with its place among the columns is kept, so that a second stays the same.
    kept = tuple(replace(c, changes=() if cured or not c.stays else c.changes) for c in hypothesis.causes)
    return draw(plan, rows, kept)


def _with_setting(drawn: Drawn, *, more_tilt_rad: Array, press_share: Array, grip: Array) -> Drawn:
    """Every bowl at every setting, one setting after another."""
    n, count = len(drawn.friction), len(more_tilt_rad)
    tiled = {
        name: np.tile(value, (count, 1) if value.ndim == 2 else count)
        for name, value in vars(drawn).items()
    }
    tiled["tilt_rad"] = read_only(tiled["tilt_rad"] + np.repeat(more_tilt_rad, n)[:, None])
    tiled["friction"] = read_only(np.maximum(tiled["friction"], np.repeat(grip, n)))
    tiled["press_N"] = read_only(tiled["press_N"] * np.repeat(press_share, n))
    return Drawn(**tiled)


def _settings(explanation: Explanation, drawn: Drawn, grips: tuple[float, ...] = GRIPS) -> list[Setting]:
    """Chance at every setting, the plan's own first, then by how small the change is."""
    plan, cut = explanation.plan, explanation.plan.bowl.cut
    scale = float(np.mean(cut.scale_tilt_rad))
    pairs = [
        (math.radians(deg), share, grip)
        for grip in grips
        for share in PRESS_SHARES
        for deg in TILT_STEPS_DEG
        if scale + math.radians(deg) >= LEAST_TILT_RAD
    ]
    # The smallest change first: half a degree counts as a tenth off the press, a grip as six degrees.
    pairs.sort(key=lambda p: abs(math.degrees(p[0])) + 4 * abs(math.log(p[1])) + 6 * (p[2] > 0))
    more, share, grip = (np.array(column) for column in zip(*pairs, strict=True))
    bowls = _with_setting(drawn, more_tilt_rad=more, press_share=share, grip=grip)
    mean = outcome_chances(plan, explanation, bowls).reshape(len(pairs), -1, len(OUTCOMES)).mean(axis=1)
    press = plan.bowl.use.press_N
    return [
        Setting(scale + tilt, press * part, held, float(c[-1]), OUTCOMES[int(c[:-1].argmax())])
        for (tilt, part, held), c in zip(pairs, mean, strict=True)
    ]


def _least_change(settings: list[Setting]) -> Setting:
    best = max(settings, key=lambda s: s.chance)
    return next((s for s in settings if s.enough), best)


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
    )
