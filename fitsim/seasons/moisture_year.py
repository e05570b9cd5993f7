"""A bowl's moisture through a year, hour by hour and week by week: base and turns each on its own.

What moisture alone moves stands here too: the cup of the base, and with it how far the bowl rocks on a
table. What it does to the strip is pressed elsewhere (`seasons.weeks`, `seasons.left_open`).
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from fitsim.arrays import Array, IntArray, read_only
from fitsim.bowl.closed_form import RigidFit, rigid_fit
from fitsim.bowl.inputs import PITH_MM, Bowl, BowlPhysics
from fitsim.climate.diffusion import base_lag, diffusion_of, film_mm_per_h, slot_air_mm2_per_h, turn_lag
from fitsim.climate.moisture_lag import Lag, follow_percent, mixed_lag
from fitsim.geometry.cupping import base_cup
from fitsim.geometry.cut import turn_indices

__all__ = [
    "DAY_H",
    "PITH_MM",
    "WEEK_H",
    "MoistureYear",
    "at_moistures",
    "bare_outside",
    "bowl_lags",
    "last_share",
    "least_pith_mm",
    "moisture_year",
    "of_rim",
    "rock_mm",
    "span_means",
]

DAY_H, WEEK_H = 24, 168


@dataclass(frozen=True, eq=False)
class MoistureYear:
    """A bowl's moisture through a year.

    Attributes
    ----------
    start_h : numpy.ndarray
        First hour of each week, shape (weeks,). [h]
    moisture_percent : numpy.ndarray
        Means over the week, of the base and then of every turn, innermost first, (weeks, 1 + turns).
        [percent]
    daily_percent : numpy.ndarray
        The same day by day, shape (days, 1 + turns). [percent]
    base_rock_mm : numpy.ndarray
        How far the rim goes down to one side by rolling a cupped base on a table, (weeks,). [mm]
    last_share : float
        Share of a revolution that the last turn covers. [-]
    """

    start_h: Array
    moisture_percent: Array
    daily_percent: Array
    base_rock_mm: Array
    last_share: float

    @property
    def base_percent(self) -> Array:
        """Moisture of the base, shape (weeks,). [percent]"""
        return np.asarray(self.moisture_percent[:, 0])

    @property
    def rim_percent(self) -> Array:
        """Moisture of the outermost whole turn round, shape (weeks,). [percent]"""
        return of_rim(self.moisture_percent, self.last_share)

    @property
    def daily_rim_percent(self) -> Array:
        """The same day by day, shape (days,). [percent]"""
        return of_rim(self.daily_percent, self.last_share)

    @property
    def driest_week(self) -> int:
        """By the rim, counted from 0."""
        return int(np.argmin(self.rim_percent))

    @property
    def wettest_week(self) -> int:
        """By the rim, counted from 0."""
        return int(np.argmax(self.rim_percent))


def bowl_lags(
    bowl: Bowl, *, moisture_percent: float, kept: str = "open", end: str = "value"
) -> tuple[Lag, ...]:
    """Lag of the base and of every turn of one bowl.

    Parameters
    ----------
    bowl : Bowl
        The bowl; its finish slows the moisture.
    moisture_percent : float
        Mean moisture of the year, for the coefficients. [percent]
    kept : str
        "open" or "flat".
    end : str
        "value", or the slow ("low") or quick ("high") end of the diffusion and of the finish.

    Returns
    -------
    tuple[Lag, ...]
        Base first, then the turns, innermost first.
    """
    fit = rigid_fit(bowl)
    board = bowl.board
    wood = diffusion_of(
        board.wood.group,
        moisture_percent=moisture_percent,
        end=end,
        film_mm_per_h=film_mm_per_h(bowl.use.finish, end),
    )
    overlap = np.clip(fit.seats.overlap, 0, 1)
    turn = turn_indices(fit.strip.angle_rad)
    count = len(overlap)
    widths = [float(fit.strip.width_mm[turn == j].mean()) for j in range(count)]
    lags = [
        base_lag(
            wood, radius_mm=bowl.cut.base_radius_mm, thickness_mm=board.thickness_mm,
            overlap=float(overlap[0]), kept=kept,
        )
    ]  # fmt: skip
    for j, (width, bare) in enumerate(zip(widths, bare_outside(fit), strict=True)):
        slot_air = 0.0
        if kept == "flat":
            slot_air = slot_air_mm2_per_h(
                slot_mm=max(float(fit.seats.slot_left_mm[j]), 0.0),
                width_mm=width,
                specific_gravity=board.wood.specific_gravity.value,
                moisture_percent=moisture_percent,
            )
        # The face inside a turn bears on its own seat, the one outside on the next turn's: nearly alike.
        sizes = {outermost: size for outermost, size in ((False, 1 - bare), (True, bare)) if size > 0}
        parts = [
            turn_lag(
                wood, width_mm=width, thickness_mm=board.thickness_mm, overlap=float(overlap[j]),
                kept=kept, slot_air_mm2_per_h=slot_air, outermost=outermost,
            )
            for outermost in sizes
        ]  # fmt: skip
        lags.append(mixed_lag(parts, tuple(sizes.values())))
    return tuple(lags)


def bare_outside(fit: RigidFit) -> Array:
    """Share of every turn that no other lies round: its outer face is open to the air, however it is kept.

    Parameters
    ----------
    fit : RigidFit
        The bowl's closed form.

    Returns
    -------
    numpy.ndarray
        Innermost first, shape (turns,): all of the last, and of the one inside it what the last is short of
        a revolution. [-]
    """
    share = fit.seats.share
    bare = np.zeros(len(share))
    bare[-2:-1] = 1 - share[-1]
    bare[-1] = 1.0
    return bare


def last_share(bowl: Bowl) -> float:
    """Share of a revolution that the last turn of a bowl covers.

    Parameters
    ----------
    bowl : Bowl
        The bowl.

    Returns
    -------
    float
        1 for a whole one. [-]
    """
    return float(rigid_fit(bowl).seats.share[-1])


def of_rim(parts_percent: Array, last_share: float) -> Array:
    """Moisture of the rim: of the outermost whole turn round, counted back from the free end.

    A short last turn by itself is no rim: most of the rim then is the turn inside it.

    Parameters
    ----------
    parts_percent : numpy.ndarray
        Of the base, then of every turn, innermost first, shape (times, 1 + turns). [percent]
    last_share : float
        Share of a revolution that the last turn covers. [-]

    Returns
    -------
    numpy.ndarray
        Shape (times,). [percent]
    """
    last, before = parts_percent[:, -1], parts_percent[:, -2]
    if parts_percent.shape[1] == 2:  # one turn: inside it lies the base
        return np.asarray(last)
    return np.asarray(last_share * last + (1 - last_share) * before)


def moisture_year(
    bowl: Bowl,
    air_percent: Array,
    *,
    kept: str = "open",
    start_percent: float | None = None,
    pith_mm: float = PITH_MM,
    end: str = "value",
) -> MoistureYear:
    """Follow the moisture of a bowl's parts through a year of hourly air.

    Parameters
    ----------
    bowl : Bowl
        The bowl, with the moisture it was cut at.
    air_percent : numpy.ndarray
        Moisture wood would settle at, hourly, from
        :func:`fitsim.climate.indoor_air.moisture_in_air_percent`. [percent]
    kept : str
        "open" or "flat".
    start_percent : float or None
        Moisture of every part at the first hour; None: the year before was the same. [percent]
    pith_mm : float
        Distance of the pith from the bottom face of the base. [mm]
    end : str
        "value", or the slow ("low") or quick ("high") end of what is known of diffusion.

    Returns
    -------
    MoistureYear
        Whole weeks from the first hour; hours left over belong to the last.

    Raises
    ------
    OutsideModelError
        If moisture leaves the formulas.
    """
    middle = float(np.mean(air_percent))
    lags = bowl_lags(bowl, moisture_percent=middle, kept=kept, end=end)
    hourly = follow_percent(lags, air_percent, start_percent=start_percent)
    starts, weekly = span_means(hourly, WEEK_H)
    return MoistureYear(
        start_h=read_only(starts.astype(np.float64)),
        moisture_percent=read_only(weekly),
        daily_percent=read_only(span_means(hourly, DAY_H)[1]),
        base_rock_mm=read_only(np.array([rock_mm(bowl, float(base), pith_mm) for base in weekly[:, 0]])),
        last_share=last_share(bowl),
    )


def span_means(hourly: Array, length_h: int) -> tuple[IntArray, Array]:
    """Means over whole spans of hours; hours left over go to the last.

    Parameters
    ----------
    hourly : numpy.ndarray
        Values of every part hour by hour, shape (parts, hours).
    length_h : int
        Length of a span. [h]

    Returns
    -------
    starts, means : numpy.ndarray
        First hour of each span, shape (spans,), and the means, shape (spans, parts).
    """
    count = hourly.shape[1]
    starts = np.arange(count // length_h) * length_h
    hours = np.diff(np.append(starts, count))
    return starts, np.asarray((np.add.reduceat(hourly, starts, axis=1) / hours).T)


def at_moistures(bowl: Bowl, moisture_percent: Array) -> Bowl:
    """The same bowl with base and turns at given moistures.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    moisture_percent : numpy.ndarray
        Of the base, then of every turn, innermost first, shape (1 + turns,). [percent]

    Returns
    -------
    Bowl
        A new bowl.
    """
    use = replace(
        bowl.use,
        base_moisture_percent=float(moisture_percent[0]),
        turn_moisture_percent=tuple(float(m) for m in moisture_percent[1:]),
    )
    return replace(bowl, use=use)


def least_pith_mm(bowl: Bowl) -> float:
    """Distance of the pith below which it would lie within the base.

    Parameters
    ----------
    bowl : Bowl
        The bowl.

    Returns
    -------
    float
        From the middle of the base; 0 for a flat-sawn board. [mm]
    """
    # The base's lower face is wider than its middle by the bevel: less than its thickness.
    foot = bowl.cut.base_radius_mm + bowl.board.thickness_mm
    return float(foot * abs(np.sin(bowl.board.ring_angle_rad)))


def rock_mm(bowl: Bowl, base_percent: float, pith_mm: float) -> float:
    """How far the rim goes down to one side by rolling the cupped base on a table.

    Parameters
    ----------
    bowl : Bowl
        The bowl, with the moisture it was sawn at.
    base_percent : float
        Moisture of the base now. [percent]
    pith_mm : float
        Distance of the pith. [mm]

    Returns
    -------
    float
        At the rim, to one side. [mm]
    """
    wood, board = bowl.board.wood, bowl.board
    change = base_percent - board.moisture_percent
    foot, rim = _foot_and_rim_mm(bowl.physics)
    cup = base_cup(
        radial_strain=wood.swell_R_per_point.value * change,
        tangential_strain=wood.swell_T_per_point.value * change,
        pith_mm=pith_mm,
        pith_rad=board.ring_angle_rad,
        base_radius_mm=foot,
        rim_radius_mm=rim,
    )
    return cup.rock_mm


@lru_cache(maxsize=64)
def _foot_and_rim_mm(bowl: BowlPhysics) -> tuple[float, float]:
    """Radius it stands on, and of its rim: those of the board where it does not open. [mm]"""
    shape = rigid_fit(bowl).shape
    if shape is None:
        return bowl.cut.base_radius_mm, bowl.board.across_mm / 2
    return shape.base_diameter_mm / 2, shape.rim_diameter_mm / 2
