"""A bowl hour by hour after a move or a wash: every part on its own way from one moisture to another.

The bowl comes from somewhere else, all of it at the moisture it was sawn at, into a room that stays as
it is. Thin turns go ahead, the base follows; in between they are apart, most after a day or two.

A wash wets every face for some minutes; a face takes up A sqrt(t), A from ``data/wash.csv`` (a figure
from memory with a wide range), so a thin turn gains more points than the base. What was taken up then
leaves like any other moisture, which is too slow for water that has only wet the skin: an upper bound.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, read_only
from fitsim.bowl import Bowl
from fitsim.cut import turn_indices
from fitsim.lag import Lag, step_share
from fitsim.leftopen import held_shares, held_state, stands
from fitsim.rigid import rigid_fit
from fitsim.tables import read_table
from fitsim.yearfit import at_moistures, play_mm, rock_mm

__all__ = ["AFTER_H", "AfterMove", "after_move", "after_wash", "wash_gain_points"]

AFTER_H = (1.0, 6.0, 24.0, 72.0, 168.0, 336.0, 672.0)
"""Hours after the move that are told: an hour to four weeks."""


@dataclass(frozen=True, eq=False)
class AfterMove:
    """A bowl after a move or a wash, closed form; arrays of shape (times,).

    Attributes
    ----------
    from_percent, to_percent : float
        Moisture before, and where it settles; one and the same for a wash. [percent]
    time_h : numpy.ndarray
        Hours since. [h]
    base_moisture_percent, first_moisture_percent, rim_moisture_percent : numpy.ndarray
        Of the base, the innermost and the outermost turn. [percent]
    base_rock_mm, play_mm : numpy.ndarray
        Rocking, and play at most when it is pressed open at that hour. [mm]
    hoop_MPa : numpy.ndarray
        Tension along the tightest turn of a bowl that stood open before; nan if it cannot stand. [MPa]
    """

    from_percent: float
    to_percent: float
    time_h: Array
    base_moisture_percent: Array
    first_moisture_percent: Array
    rim_moisture_percent: Array
    base_rock_mm: Array
    play_mm: Array
    hoop_MPa: Array


def after_move(
    bowl: Bowl, lags: tuple[Lag, ...], *, from_percent: float, to_percent: float, pith_mm: float
) -> AfterMove:
    """Move a bowl into a room that stays as it is.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    lags : tuple[Lag, ...]
        Lags of base and turns.
    from_percent, to_percent : float
        Moisture of every part before, and where wood settles in the room. [percent]
    pith_mm : float
        Distance of the pith. [mm]

    Returns
    -------
    AfterMove
        At the hours of :data:`AFTER_H`.
    """
    away = np.full(len(lags), from_percent - to_percent)
    return _followed(bowl, lags, from_percent, to_percent, away, AFTER_H, pith_mm)


def after_wash(
    bowl: Bowl, lags: tuple[Lag, ...], *, at_percent: float, pith_mm: float, end: str = "value"
) -> AfterMove:
    """Wash a bowl that stands open and let it dry in the air it came from.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    lags : tuple[Lag, ...]
        Lags of base and turns.
    at_percent : float
        Moisture of every part before the wash. [percent]
    pith_mm : float
        Distance of the pith. [mm]
    end : str
        "value", or the "low" or "high" end of what is known of the uptake.

    Returns
    -------
    AfterMove
        Just after, and at the hours of :data:`AFTER_H`.
    """
    gain = wash_gain_points(bowl, at_percent=at_percent, end=end)
    return _followed(bowl, lags, at_percent, at_percent, gain, (0.0, *AFTER_H), pith_mm)


def wash_gain_points(bowl: Bowl, *, at_percent: float, end: str = "value") -> Array:
    """Mean gain of every part of an open bowl in a wash, 100 A sqrt(t) (surface/volume)/density.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    at_percent : float
        Moisture before, for what bears and takes nothing. [percent]
    end : str
        "value", "low" or "high".

    Returns
    -------
    numpy.ndarray
        Base first, then the turns, innermost first, shape (1 + turns,). [percent]
    """
    rows = {row["quantity"]: float(row[end]) for row in read_table("wash")}
    taken = rows["absorption_across"] * np.sqrt(60 * rows["wet_minutes"])  # kg/m2
    fit = rigid_fit(at_moistures(bowl, np.full(1 + _turns_of(bowl), at_percent)))
    free = 1 - np.clip(fit.seats.overlap, 0, 1)
    turn = turn_indices(fit.strip.angle_rad)
    width = np.array([fit.strip.width_mm[turn == j].mean() for j in range(len(free))])
    # Round a turn and round the base, half of an upright face is end grain in effect: mean of cos^2.
    upright = (1 + rows["end_grain_ratio"]) / 2
    flat = 2 / bowl.board.thickness_mm
    edge = 2 * free[0] / bowl.cut.base_radius_mm
    per_mm = np.append(edge, 2 * free / width) * upright + flat
    return np.asarray(100 * taken * 1000 * per_mm / (1000 * bowl.board.wood.specific_gravity.value))


def _turns_of(bowl: Bowl) -> int:
    """Turns of the strip, the last one in part."""
    return len(rigid_fit(bowl).seats.share)


def _followed(
    bowl: Bowl, lags: tuple[Lag, ...], before_percent: float, to_percent: float, away: Array,
    hours: tuple[float, ...], pith_mm: float,
) -> AfterMove:  # fmt: skip
    """Every part from its own distance to where all settle."""
    left = np.array([1 - step_share(lag, np.array(hours)) for lag in lags])
    parts = to_percent + away[:, None] * left
    before = rigid_fit(at_moistures(bowl, np.full(len(lags), before_percent)))
    shares = held_shares(before, bowl) if stands(before) else None
    rocks, plays, hoops = [], [], []
    for now in parts.T:
        state = at_moistures(bowl, now)
        fit = rigid_fit(state)
        rocks.append(rock_mm(bowl, fit, float(now[0]), pith_mm))
        plays.append(play_mm(fit))
        pull = np.nan if shares is None else held_state(state, fit, shares).hoop_MPa.max()
        hoops.append(float(pull))
    return AfterMove(
        from_percent=before_percent,
        to_percent=to_percent,
        time_h=read_only(np.array(hours)),
        base_moisture_percent=read_only(parts[0]),
        first_moisture_percent=read_only(parts[1]),
        rim_moisture_percent=read_only(parts[-1]),
        base_rock_mm=read_only(np.array(rocks)),
        play_mm=read_only(np.array(plays)),
        hoop_MPa=read_only(np.array(hoops)),
    )
