"""A bowl hour by hour after a move or a wash: every part on its own way from one moisture to another.

The bowl comes from somewhere else, all of it at the moisture it was sawn at, into a room that stays as
it is. Thin turns go ahead, the base follows; in between they are apart, most after a day or two. At each of
these hours the strip is pressed open anew; and one that stood open before is followed through them all.

Turns of a bowl that lies flat wait behind shut slots; one left open stands in the room, however others are
kept, and is followed with moistures of its own.

A wash wets every face for some minutes; a face takes up A sqrt(t), A from ``data/wash.csv`` (a figure
from memory with a wide range), so a thin turn gains more points than the base. What was taken up then
leaves like any other moisture, which is too slow for water that has only wet the skin: an upper bound.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, read_only
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.inputs import Bowl
from fitsim.climate.moisture_lag import Lag, step_share
from fitsim.geometry.cut import turn_indices
from fitsim.seasons.left_open import StoodOpen
from fitsim.seasons.moisture_year import at_moistures, bare_outside, last_share, of_rim, rock_mm
from fitsim.seasons.weeks import WeekFit
from fitsim.tables import read_table

__all__ = ["AFTER_H", "AfterMove", "PartsAfter", "after", "parts_after_move", "parts_after_wash",
           "wash_gain_points"]  # fmt: skip

AFTER_H = (6.0, 24.0, 72.0, 168.0, 672.0)
"""Hours after the move that are told: a quarter of a day to four weeks."""


@dataclass(frozen=True, eq=False)
class PartsAfter:
    """Moisture of a bowl's parts after a move or a wash.

    Attributes
    ----------
    before_percent, to_percent : float
        Moisture of all of it before, and where it settles; one and the same for a wash. [percent]
    time_h : numpy.ndarray
        Hours since, shape (times,). [h]
    moisture_percent : numpy.ndarray
        Of the base, then of every turn, innermost first, shape (times, 1 + turns). [percent]
    base_rock_mm : numpy.ndarray
        Rocking on a table, shape (times,). [mm]
    last_share : float
        Share of a revolution that the last turn covers. [-]
    """

    before_percent: float
    to_percent: float
    time_h: Array
    moisture_percent: Array
    base_rock_mm: Array
    last_share: float

    @property
    def rim_percent(self) -> Array:
        """Moisture of the outermost whole turn round, shape (times,). [percent]"""
        return of_rim(self.moisture_percent, self.last_share)

    @property
    def from_before_percent(self) -> Array:
        """The same with the moisture before in front, as a standing bowl meets them, (1 + times, ...)."""
        before = np.full((1, self.moisture_percent.shape[1]), self.before_percent)
        return np.concatenate([before, self.moisture_percent])

    def bowls(self, bowl: Bowl) -> tuple[Bowl, ...]:
        """The bowl at each of these hours."""
        return tuple(at_moistures(bowl, row) for row in self.moisture_percent)


@dataclass(frozen=True, eq=False)
class AfterMove:
    """A bowl after a move or a wash.

    Attributes
    ----------
    parts : PartsAfter
        Moisture and rocking at each hour of the bowl as it is kept between uses.
    opened : tuple of WeekFit
        That bowl pressed open anew at each hour.
    stood_parts : PartsAfter
        Moisture at each hour of a bowl that stands open: the same unless it is kept flat.
    stood : StoodOpen
        Opened before and left so: before, then at each hour.
    """

    parts: PartsAfter
    opened: tuple[WeekFit, ...]
    stood_parts: PartsAfter
    stood: StoodOpen


def after(
    bowl: Bowl, lags: tuple[Lag, ...], before_percent: float, to_percent: float, away: Array,
    hours: tuple[float, ...], pith_mm: float,
) -> PartsAfter:  # fmt: skip
    """Every part from its own distance to where all settle.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    lags : tuple[Lag, ...]
        Lags of base and turns.
    before_percent, to_percent : float
        Moisture of every part before, and where it settles. [percent]
    away : numpy.ndarray
        How far from there each part begins, shape (1 + turns,). [percent]
    hours : tuple of float
        Hours since. [h]
    pith_mm : float
        Distance of the pith. [mm]

    Returns
    -------
    PartsAfter
        At these hours.
    """
    left = np.array([1 - step_share(lag, np.array(hours)) for lag in lags])
    parts = (to_percent + away[:, None] * left).T
    rocks = [rock_mm(bowl, float(base), pith_mm) for base in parts[:, 0]]
    return PartsAfter(
        before_percent=before_percent,
        to_percent=to_percent,
        time_h=read_only(np.array(hours)),
        moisture_percent=read_only(parts),
        base_rock_mm=read_only(np.array(rocks)),
        last_share=last_share(bowl),
    )


def parts_after_move(
    bowl: Bowl, lags: tuple[Lag, ...], *, from_percent: float, to_percent: float, pith_mm: float
) -> PartsAfter:
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
    PartsAfter
        At the hours of :data:`AFTER_H`.
    """
    away = np.full(len(lags), from_percent - to_percent)
    return after(bowl, lags, from_percent, to_percent, away, AFTER_H, pith_mm)


def parts_after_wash(
    bowl: Bowl, lags: tuple[Lag, ...], *, at_percent: float, pith_mm: float, end: str = "value"
) -> PartsAfter:
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
    PartsAfter
        Just after, and at the hours of :data:`AFTER_H`.
    """
    gain = wash_gain_points(bowl, at_percent=at_percent, end=end)
    return after(bowl, lags, at_percent, at_percent, gain, (0.0, *AFTER_H), pith_mm)


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
    bare = bare_outside(fit)
    outside = bare + (1 - bare) * free
    per_mm = np.append(edge, (free + outside) / width) * upright + flat
    return np.asarray(100 * taken * 1000 * per_mm / (1000 * bowl.board.wood.specific_gravity.value))


def _turns_of(bowl: Bowl) -> int:
    """Turns of the strip, the last one in part."""
    return len(rigid_fit(bowl).seats.share)
