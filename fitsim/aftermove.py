"""A bowl hour by hour after a move: every part on its own way from one moisture to another.

The bowl comes from somewhere else, all of it at the moisture it was sawn at, into a room that stays as
it is. Thin turns go ahead, the base follows; in between they are apart, most after a day or two.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, read_only
from fitsim.bowl import Bowl
from fitsim.lag import Lag, step_share
from fitsim.leftopen import held_shares, held_state, stands
from fitsim.rigid import rigid_fit
from fitsim.yearfit import at_moistures, play_mm, rock_mm

__all__ = ["AFTER_H", "AfterMove", "after_move"]

AFTER_H = (1.0, 6.0, 24.0, 72.0, 168.0, 336.0, 672.0)
"""Hours after the move that are told: an hour to four weeks."""


@dataclass(frozen=True, eq=False)
class AfterMove:
    """A bowl after a move, closed form; arrays of shape (times,).

    Attributes
    ----------
    from_percent, to_percent : float
        Moisture before, and where it would settle. [percent]
    time_h : numpy.ndarray
        Hours since the move. [h]
    base_moisture_percent, first_moisture_percent, rim_moisture_percent : numpy.ndarray
        Of the base, the innermost and the outermost turn. [percent]
    base_rock_mm, play_mm : numpy.ndarray
        Rocking, and play at most when it is pressed open at that hour. [mm]
    hoop_MPa : numpy.ndarray
        Tension along the tightest turn of a bowl moved standing open; nan if it cannot stand. [MPa]
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
    left = np.array([1 - step_share(lag, np.array(AFTER_H)) for lag in lags])
    parts = to_percent + (from_percent - to_percent) * left
    before = rigid_fit(at_moistures(bowl, np.full(len(lags), from_percent)))
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
        from_percent=from_percent,
        to_percent=to_percent,
        time_h=read_only(np.array(AFTER_H)),
        base_moisture_percent=read_only(parts[0]),
        first_moisture_percent=read_only(parts[1]),
        rim_moisture_percent=read_only(parts[-1]),
        base_rock_mm=read_only(np.array(rocks)),
        play_mm=read_only(np.array(plays)),
        hoop_MPa=read_only(np.array(hoops)),
    )
