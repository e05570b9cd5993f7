"""Fit through a year, week by week, in the closed form: base and turns each at their own moisture."""

from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array, IntArray, read_only
from fitsim.bowl import Bowl
from fitsim.cupping import base_cup
from fitsim.cut import turn_indices
from fitsim.diffusion import (
    base_lag,
    diffusion_of,
    film_mm_per_h,
    slot_air_mm2_per_h,
    turn_lag,
)
from fitsim.lag import Lag, follow_percent
from fitsim.rigid import RigidFit, rigid_fit

__all__ = [
    "DAY_H",
    "PITH_MM",
    "WEEK_H",
    "YearFit",
    "at_moistures",
    "bowl_lags",
    "least_pith_mm",
    "play_mm",
    "rock_mm",
    "span_means",
    "week_moistures",
    "year_fit",
]

DAY_H, WEEK_H = 24, 168
PITH_MM = 150.0
"""Distance of the pith where nobody measured it: an estimate, 75 to 300 mm are usual."""


@dataclass(frozen=True, eq=False)
class YearFit:
    """A bowl through a year, closed form; arrays of shape (weeks,) unless said.

    Attributes
    ----------
    start_h : numpy.ndarray
        First hour of each week. [h]
    base_moisture_percent, rim_moisture_percent : numpy.ndarray
        Means over the week, of the base and of the outermost turn. [percent]
    turn_moisture_percent : numpy.ndarray
        Of every turn, innermost first, shape (weeks, turns). [percent]
    base_rock_mm : numpy.ndarray
        How far the rim goes down to one side by rolling a cupped base on a table. [mm]
    rim_out_of_level_mm : numpy.ndarray
        Greatest less least height of the rim; not a number where a turn does not bind. [mm]
    play_mm : numpy.ndarray
        At most so far can the rim be tipped because seats bind at two places only. [mm]
    slot_left_mm : numpy.ndarray
        Least slot left when laid flat. [mm]
    split_chance : numpy.ndarray
        Chance that it splits when pressed open in that week, seats home. [-]
    daily_moisture_percent : numpy.ndarray
        Day by day, base first and then the turns, shape (days, 1 + turns). [percent]
    fits : tuple[RigidFit, ...]
        The closed form of every week.
    driest_week, wettest_week : int
        By the rim's moisture, counted from 0.
    model : str
        "closed form": no week of this has an elastic solution behind it.
    """

    start_h: Array
    base_moisture_percent: Array
    rim_moisture_percent: Array
    turn_moisture_percent: Array
    base_rock_mm: Array
    rim_out_of_level_mm: Array
    play_mm: Array
    slot_left_mm: Array
    split_chance: Array
    daily_moisture_percent: Array
    fits: tuple[RigidFit, ...]
    driest_week: int
    wettest_week: int
    model: str = "closed form"


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
    for j, width in enumerate(widths):
        slot_air = 0.0
        if kept == "flat":
            slot_air = slot_air_mm2_per_h(
                slot_mm=max(float(fit.seats.slot_left_mm[j]), 0.0),
                width_mm=width,
                specific_gravity=board.wood.specific_gravity.value,
                moisture_percent=moisture_percent,
            )
        # The face inside a turn bears on its own seat, the one outside on the next turn's: nearly alike.
        lags.append(
            turn_lag(
                wood, width_mm=width, thickness_mm=board.thickness_mm, overlap=float(overlap[j]),
                kept=kept, slot_air_mm2_per_h=slot_air, outermost=j == count - 1,
            )
        )  # fmt: skip
    return tuple(lags)


def year_fit(
    bowl: Bowl,
    air_percent: Array,
    *,
    kept: str = "open",
    start_percent: float | None = None,
    pith_mm: float = PITH_MM,
    end: str = "value",
) -> YearFit:
    """Follow a bowl through a year of hourly air.

    Parameters
    ----------
    bowl : Bowl
        The bowl, with the moisture it was cut at.
    air_percent : numpy.ndarray
        Moisture wood would settle at, hourly, from
        :func:`fitsim.indoor.moisture_in_air_percent`. [percent]
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
    YearFit
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
    states = [at_moistures(bowl, week) for week in weekly]
    fits = [rigid_fit(state) for state in states]
    return YearFit(
        start_h=read_only(starts.astype(np.float64)),
        base_moisture_percent=read_only(weekly[:, 0]),
        rim_moisture_percent=read_only(weekly[:, -1]),
        turn_moisture_percent=read_only(weekly[:, 1:]),
        base_rock_mm=_each(
            [rock_mm(bowl, f, float(b), pith_mm) for f, b in zip(fits, weekly[:, 0], strict=True)]
        ),
        rim_out_of_level_mm=_each([_out_of_level_mm(fit) for fit in fits]),
        play_mm=_each([play_mm(fit) for fit in fits]),
        slot_left_mm=_each([float(fit.seats.slot_left_mm.min()) for fit in fits]),
        split_chance=_each([fit.numbers.split_chance for fit in fits]),
        daily_moisture_percent=read_only(span_means(hourly, DAY_H)[1]),
        fits=tuple(fits),
        driest_week=int(np.argmin(weekly[:, -1])),
        wettest_week=int(np.argmax(weekly[:, -1])),
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


def _each(values: list[float]) -> Array:
    return read_only(np.array(values))


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


def week_moistures(year: YearFit, week: int) -> Array:
    """Moisture of base and turns in one week, as :func:`at_moistures` takes it.

    Parameters
    ----------
    year : YearFit
        The year.
    week : int
        Counted from 0.

    Returns
    -------
    numpy.ndarray
        Base first, shape (1 + turns,). [percent]
    """
    return read_only(np.append(year.base_moisture_percent[week], year.turn_moisture_percent[week]))


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


def rock_mm(bowl: Bowl, fit: RigidFit, base_moisture_percent: float, pith_mm: float) -> float:
    """How far the rim goes down to one side by rolling the cupped base on a table.

    Parameters
    ----------
    bowl : Bowl
        The bowl, with the moisture it was sawn at.
    fit : RigidFit
        For the size of foot and rim.
    base_moisture_percent : float
        Moisture of the base now. [percent]
    pith_mm : float
        Distance of the pith. [mm]

    Returns
    -------
    float
        At the rim, to one side. [mm]
    """
    wood, board = bowl.board.wood, bowl.board
    change = base_moisture_percent - board.moisture_percent
    foot, rim = bowl.cut.base_radius_mm, board.across_mm / 2
    if fit.shape is not None:
        foot, rim = fit.shape.base_diameter_mm / 2, fit.shape.rim_diameter_mm / 2
    cup = base_cup(
        radial_strain=wood.swell_R_per_point.value * change,
        tangential_strain=wood.swell_T_per_point.value * change,
        pith_mm=pith_mm,
        pith_rad=board.ring_angle_rad,
        base_radius_mm=foot,
        rim_radius_mm=rim,
    )
    return cup.rock_mm


def _out_of_level_mm(fit: RigidFit) -> float:
    if fit.shape is None:
        return float("nan")
    return fit.shape.rise_greatest_mm - fit.shape.rise_least_mm


def play_mm(fit: RigidFit) -> float:
    """At most so far can the rim be tipped.

    Every seat that binds at two opposite places tips until it binds elsewhere; the rim adds it up.

    Parameters
    ----------
    fit : RigidFit
        The bowl at one moment.

    Returns
    -------
    float
        At the rim. [mm]
    """
    spare = fit.seats.greatest_drop_mm - fit.seats.seat_drop_mm
    turn = turn_indices(fit.strip.angle_rad)
    radius = [float(fit.strip.radius_mm[turn == j].mean()) for j in range(len(spare))]
    return float(np.sum(spare * radius[-1] / np.array(radius)))
