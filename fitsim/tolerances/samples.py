"""The same bowl sawn again and again: what differs from one to the next, and by how much.

One model for whoever asks how often a bowl locks or why one failed. What differs has a name, a law, a size
and a source for each:

- the saw: the table's setting, how well the mean kerf is known, and the kerf's wander, one number a turn;
- the board: thickness and stiffness; its strength is not taken by chance here, because the chance of
  splitting holds its scatter already, exactly;
- the hand and the air: press, friction, moisture of turns and base;
- everything the bowl knows as a range, taken evenly over it.

The kerf wanders along the cut as a Gaussian function of the arc length with covariance
sd^2 exp(-(s - s')^2 / (2 l^2)). An elastic turn lies down on its neighbour and follows the *mean* of the
kerf round it, not its narrowest place: on 200 turns pressed into a kerf that wanders from point to point
by 0.05 mm (``studies/wandering_kerf.py``) the drop of a turn times sin(tilt) differs from its mean kerf by
0.006 mm on the average and 0.02 mm for one turn of one bowl; its narrowest place would have held it
0.065 mm higher. So a turn has one kerf, with the standard deviation of a mean over its length; turns
hundreds of millimetres long know nothing of one another.

Sizes nobody gave stand in ``fitsim/data/scatter.csv``, that of stiffness in ``variability.csv``.
"""

import math
import re
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from fitsim.arrays import Array
from fitsim.bowl.closed_form import free_end_width_mm, slot_and_strip
from fitsim.bowl.inputs import Bowl, BowlPhysics, bowl_from_physics, with_input
from fitsim.geometry.cut import spiral_slot, spiral_turns, strip_between_slots
from fitsim.quantities import TURN_RAD
from fitsim.tables import read_table
from fitsim.wood.species import variability

__all__ = ["Dimension", "Scattered", "scattered", "share_in_mean", "unit_cube"]

ELASTIC_CONSTANTS = ("E_L_MPa", "E_R_MPa", "E_T_MPa", "G_LR_MPa", "G_LT_MPa", "G_RT_MPa")

LEAST_SHARE = 0.05
"""A kerf or thickness is never taken below this share of what was meant."""

DRIEST_PERCENT, WETTEST_PERCENT = 2.0, 28.0
"""No sample is drier or wetter than this: the formulas end there."""

TILT, KERF, KERF_ROUND, THICKNESS = "tilt set", "mean kerf", "kerf round turn ", "thickness"
STIFFNESS, FILM, PRESS = "stiffness", "film", "press"
TURN_MOISTURE, BASE_MOISTURE = "moisture of the turns", "moisture of the base"

SOBOL_COLUMNS = 64
"""Columns that get Sobol points; beyond these a column matters too little to gain by it."""


@dataclass(frozen=True)
class Dimension:
    """One thing that differs from bowl to bowl.

    Attributes
    ----------
    name : str
        In a maker's words: "tilt set", "mean kerf", "kerf round turn 2", "friction".
    unit : str
        Of its values, "" for a ratio.
    law : str
        "normal", "even" (over a range) or "times" (the logarithm is normal).
    middle, size : float
        Median, and standard deviation; of the logarithm where the law is "times". [unit]
    path : str
        Where the value sits in :class:`fitsim.bowl.inputs.Bowl`; "" where it is an error added to what was
        meant, or the factor of all stiffnesses.
    mark, source : str
        "published", "from memory", "estimated", "measured" or "given", and where the size comes from.
    """

    name: str
    unit: str
    law: str
    middle: float
    size: float
    path: str
    mark: str
    source: str


@dataclass(frozen=True)
class Scattered:
    """A bowl sawn again and again.

    A sample may be written three ways: as a point of the unit cube, as *values* (each dimension in its own
    unit), or as standardised coordinates (values less the middle, over the standard deviation).

    Attributes
    ----------
    bowl : Bowl
        The bowl that was meant, every range at its middle.
    dimensions : tuple[Dimension, ...]
        What differs; never empty.
    """

    bowl: Bowl
    dimensions: tuple[Dimension, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Name of every dimension."""
        return tuple(d.name for d in self.dimensions)

    @property
    def units(self) -> tuple[str, ...]:
        """Unit of every dimension's values."""
        return tuple(d.unit for d in self.dimensions)

    def at_tilt(self, tilt_rad: float) -> "Scattered":
        """The same, another tilt being meant.

        Parameters
        ----------
        tilt_rad : float
            One tilt for the whole cut. [rad]

        Returns
        -------
        Scattered
            With the same dimensions, so that one point of the cube strays alike at every tilt.
        """
        return replace(self, bowl=with_input(self.bowl, "cut.tilt_rad", tilt_rad))

    def values(self, points: Array) -> Array:
        """Values at points of the unit cube.

        Parameters
        ----------
        points : numpy.ndarray
            Shape (n, dimensions). [-]

        Returns
        -------
        numpy.ndarray
            Shape (n, dimensions), each column in the unit of its dimension. [unit]
        """
        from scipy.special import ndtri

        inside = np.clip(np.asarray(points, dtype=np.float64), 2.0**-40, 1 - 2.0**-40)
        columns = []
        for u, d in zip(inside.T, self.dimensions, strict=True):
            if d.law == "even":
                columns.append(d.middle + math.sqrt(3.0) * d.size * (2 * u - 1))
            elif d.law == "times":
                columns.append(d.middle * np.exp(d.size * ndtri(u)))
            else:
                columns.append(d.middle + d.size * ndtri(u))
        return np.column_stack(columns)

    def standardised(self, values: Array) -> Array:
        """Values as standardised coordinates, mean 0 and standard deviation 1 over the samples.

        Parameters
        ----------
        values : numpy.ndarray
            Shape (n, dimensions). [unit]

        Returns
        -------
        numpy.ndarray
            Shape (n, dimensions); a value of a "times" by its logarithm. [-]
        """
        columns = []
        for v, d in zip(np.asarray(values, dtype=np.float64).T, self.dimensions, strict=True):
            away = np.log(np.maximum(v, 1e-12) / d.middle) if d.law == "times" else v - d.middle
            columns.append(away / d.size)
        return np.column_stack(columns)

    def coordinates(self, points: Array) -> Array:
        """Standardised coordinates of points of the unit cube.

        Parameters
        ----------
        points : numpy.ndarray
            Shape (n, dimensions). [-]

        Returns
        -------
        numpy.ndarray
            Shape (n, dimensions). [-]
        """
        return self.standardised(self.values(points))

    def bowls(self, points: Array) -> tuple[Bowl, ...]:
        """The bowls at points of the unit cube.

        Parameters
        ----------
        points : numpy.ndarray
            Shape (n, dimensions); the same points give the same bowls. [-]

        Returns
        -------
        tuple[Bowl, ...]
            One for each point, every input at one value, one kerf for each turn.
        """
        return self.bowls_at(self.values(points))

    def bowls_at(self, values: Array) -> tuple[Bowl, ...]:
        """The bowls at values of every dimension, however these came about.

        Parameters
        ----------
        values : numpy.ndarray
            Shape (n, dimensions). [unit]

        Returns
        -------
        tuple[Bowl, ...]
            One for each row.
        """
        return tuple(self._sawn(row) for row in np.asarray(values, dtype=np.float64).tolist())

    def _sawn(self, row: list[float]) -> Bowl:
        bowl, errors = self.bowl.physics, dict[str, float]()
        for value, d in zip(row, self.dimensions, strict=True):
            if d.path:
                bowl = with_input(bowl, d.path, value)
            else:
                errors[d.name] = value
        return bowl_from_physics(_with_errors(bowl, errors))


def _with_errors(bowl: BowlPhysics, errors: dict[str, float]) -> BowlPhysics:
    board, cut, use = bowl.board, bowl.cut, bowl.use
    turns = _slot_turns(bowl)
    meant = cut.kerf_mm * (turns if len(cut.kerf_mm) == 1 else 1)
    mean = errors.get(KERF, 0.0)
    kerf = tuple(
        max(k + mean + errors.get(f"{KERF_ROUND}{j}", 0.0), LEAST_SHARE * k) for j, k in enumerate(meant, 1)
    )
    stiffer, wood = errors.get(STIFFNESS, 1.0), board.wood
    numbers = {name: getattr(wood, name) for name in ELASTIC_CONSTANTS}
    wood = replace(
        wood, **{n: replace(number, value=stiffer * number.value) for n, number in numbers.items()}
    )
    thickness = max(board.thickness_mm + errors.get(THICKNESS, 0.0), LEAST_SHARE * board.thickness_mm)
    return replace(
        bowl,
        board=replace(board, thickness_mm=thickness, wood=wood),
        cut=replace(cut, kerf_mm=kerf, tilt_rad=tuple(t + errors.get(TILT, 0.0) for t in cut.tilt_rad)),
        use=replace(
            use,
            film_mm=max(use.film_mm + errors.get(FILM, 0.0), 0.0),
            base_moisture_percent=_moisture(use.base_moisture_percent + errors.get(BASE_MOISTURE, 0.0)),
            turn_moisture_percent=tuple(
                _moisture(m + errors.get(TURN_MOISTURE, 0.0)) for m in use.turn_moisture_percent
            ),
        ),
    )


def _moisture(percent: float) -> float:
    return min(max(percent, DRIEST_PERCENT), WETTEST_PERCENT)


def _slot_turns(bowl: BowlPhysics) -> int:
    turns = spiral_turns(
        base_radius_mm=bowl.cut.base_radius_mm,
        outer_radius_mm=bowl.board.across_mm / 2,
        pitch_mm=bowl.cut.pitch_mm,
        pitch_shape=bowl.cut.pitch_shape,
    )
    return math.ceil(turns - 1e-9)


def share_in_mean(length_mm: Array, *, forgets_mm: float) -> Array:
    """Standard deviation of the mean of a wandering kerf over a length, over that of the kerf itself.

    Parameters
    ----------
    length_mm : numpy.ndarray
        Lengths along the cut, shape (n,). [mm]
    forgets_mm : float
        Length l of the covariance exp(-s^2/(2 l^2)). [mm]

    Returns
    -------
    numpy.ndarray
        Root of 2/L^2 times the integral of (L - s) exp(-s^2/(2 l^2)) from 0 to L, shape (n,). [-]

    Examples
    --------
    >>> share_in_mean(np.array([0.001, 300.0]), forgets_mm=30.0).round(3).tolist()
    [1.0, 0.48]
    """
    from scipy.special import erf

    x = np.asarray(length_mm, dtype=np.float64) / forgets_mm
    square = math.sqrt(2 * math.pi) * erf(x / math.sqrt(2)) / x + 2 * np.expm1(-(x**2) / 2) / x**2
    return np.sqrt(np.clip(square, 0.0, 1.0))


def unit_cube(dimensions: int, count: int, *, seed: int) -> Array:
    """Points spread evenly over the unit cube.

    Parameters
    ----------
    dimensions : int
        Columns.
    count : int
        Points; a power of two spreads best.
    seed : int
        The same seed gives the same points, and its first ones do not depend on how many are asked for.

    Returns
    -------
    numpy.ndarray
        Scrambled Sobol points, plain random numbers beyond the first 64 columns, shape
        (count, dimensions). [-]
    """
    from scipy.stats import qmc

    even, plain = np.random.SeedSequence(seed).spawn(2)
    first = min(dimensions, SOBOL_COLUMNS)
    sobol = qmc.Sobol(d=first, scramble=True, seed=np.random.default_rng(even))
    whole = 2 ** math.ceil(math.log2(max(count, 1)))
    rest = np.random.default_rng(plain).random((count, dimensions - first))
    return np.hstack([sobol.random(whole)[:count], rest])


@cache
def _rows() -> dict[str, dict[str, str]]:
    return {row["key"]: row for row in read_table("scatter")}


def scattered(bowl: Bowl, *, broad: bool = False) -> Scattered:
    """What differs when a bowl is sawn again and again.

    Parameters
    ----------
    bowl : Bowl
        The bowl as its file has it: its scatter, its ranges, and estimates for the rest.
    broad : bool
        True for sizes so wide that they stand for causes nobody listed.

    Returns
    -------
    Scattered
        What has no size is no dimension: a scatter given as 0 leaves its column out.

    Raises
    ------
    OutsideModelError
        If the cut leaves no strip.
    """
    ranged = {u.path for u in bowl.uncertain}
    found = [
        *_saw(bowl, ranged, broad=broad),
        *_board(bowl, ranged, broad=broad),
        *_hand_and_air(bowl, ranged, broad=broad),
        *_ranges(bowl, broad=broad),
    ]
    return Scattered(bowl, tuple(d for d in found if d.size > 0))


def _error(key: str, size: float, given: bool, *, broad: bool, name: str = "") -> Dimension:
    """An error added to what was meant, from a row of the table."""
    row = _rows()[key]
    if broad:
        size = max(size, float(row["broad"]) * (math.radians(1) if row["unit"] == "deg" else 1.0))
    mark, source = ("given", "the bowl file") if given and not broad else (row["mark"], row["source"])
    unit = "rad" if row["unit"] == "deg" else row["unit"]
    return Dimension(name or row["name"], unit, "normal", 0.0, size, "", mark, source)


def _saw(bowl: Bowl, ranged: set[str], *, broad: bool) -> list[Dimension]:
    scatter, found = bowl.scatter, []
    assumed = {a.key for a in scatter.assumptions}
    if "cut.scale_offset_rad" not in ranged or broad:
        # A saw file's range of the scale's error holds the error of setting it already.
        found.append(_error("tilt", scatter.tilt_rad, "scatter.tilt" not in assumed, broad=broad))
    if "cut.kerf_mm" not in ranged or broad:
        found.append(_error("mean_kerf", float(_rows()["mean_kerf"]["size"]), False, broad=broad))
    size = max(scatter.kerf_mm, float(_rows()["kerf"]["broad"]) if broad else 0.0)
    shares = share_in_mean(_turn_lengths_mm(bowl), forgets_mm=scatter.kerf_length_mm)
    for j, share in enumerate(shares.tolist(), 1):
        of = _error("kerf", scatter.kerf_mm, "scatter.kerf" not in assumed, broad=broad)
        found.append(replace(of, name=f"{KERF_ROUND}{j}", size=size * share))
    return found


def _turn_lengths_mm(bowl: Bowl) -> Array:
    """Length of the cut along each turn of the strip, the lean of the spiral left out. [mm]"""
    cut = bowl.cut
    if bowl.board.edge is not None:
        slot, strip = slot_and_strip(bowl)
        ends = np.append(np.arange(math.ceil(strip.turns - 1e-9)), strip.turns)
        return np.diff(np.interp(TURN_RAD * ends, slot.angle_rad, slot.gone_mm))
    slot = spiral_slot(
        base_radius_mm=cut.base_radius_mm,
        outer_radius_mm=bowl.board.across_mm / 2,
        pitch_mm=cut.pitch_mm,
        kerf_mm=cut.kerf_mm,
        tilt_rad=cut.tilt_rad,
        pitch_shape=cut.pitch_shape,
    )
    strip = strip_between_slots(
        slot,
        across_mm=bowl.board.across_mm,
        outline=bowl.board.outline,
        end_width_mm=free_end_width_mm(cut, slot),
    )
    ends = np.append(np.arange(math.ceil(strip.turns - 1e-9)), strip.turns)
    if cut.pitch_shape:
        pieces = (slot.radius_mm[1:] + slot.radius_mm[:-1]) / 2 * np.diff(slot.angle_rad)
        return np.diff(np.interp(TURN_RAD * ends, slot.angle_rad, np.append(0.0, np.cumsum(pieces))))
    return np.diff(TURN_RAD * ends * (cut.base_radius_mm + cut.pitch_mm * ends / 2))


def _board(bowl: Bowl, ranged: set[str], *, broad: bool) -> list[Dimension]:
    assumed = {a.key for a in bowl.scatter.assumptions}
    modulus = variability()["modulus"]
    # With a published coefficient of variation v and mean 1, a lognormal's logarithm has log(1 + v^2).
    log = math.sqrt(math.log1p(modulus.value**2))
    found = [
        _error("thickness", bowl.scatter.thickness_mm, "scatter.thickness" not in assumed, broad=broad),
        Dimension(
            STIFFNESS, "", "times", math.exp(-(log**2) / 2), log, "", modulus.mark,
            f"{modulus.source}; one factor for a board, its logarithm taken as normal",
        ),
    ]  # fmt: skip
    return [d for d in found if f"board.{d.name}_mm" not in ranged]


def _hand_and_air(bowl: Bowl, ranged: set[str], *, broad: bool) -> list[Dimension]:
    rows, use, found = _rows(), bowl.use, []
    if broad:
        low, high = map(float, rows["friction"]["broad"].split(" to "))
        found.append(
            _even("friction", "", low, high, "use.friction", "estimated", rows["friction"]["source"])
        )
    elif "use.friction" not in ranged:
        share, row = float(rows["friction"]["size"]), rows["friction"]
        ends = (1 - share) * use.friction, (1 + share) * use.friction
        found.append(_even("friction", "", *ends, "use.friction", row["mark"], row["source"]))
    if "use.press_N" not in ranged or broad:
        row = rows["press"]
        size = float(row["broad" if broad else "size"])
        press = Dimension(
            "press", "N", "times", use.press_N, size, "use.press_N", row["mark"], row["source"]
        )
        found.append(press)
    if "use.film_mm" not in ranged or broad:
        found.append(_error("film", float(rows["film"]["size"]), False, broad=broad))
    for key in ("turn_moisture", "base_moisture"):
        if f"use.{key}_percent" not in ranged or broad:
            found.append(_error(key, float(rows[key]["size"]), False, broad=broad))
    return found


def _even(name: str, unit: str, low: float, high: float, path: str, mark: str, source: str) -> Dimension:
    return Dimension(
        name, unit, "even", (low + high) / 2, (high - low) / math.sqrt(12.0), path, mark, source
    )


def _ranges(bowl: Bowl, *, broad: bool) -> list[Dimension]:
    """Everything the bowl knows as a range; where errors are broad, only what these do not cover."""
    covered = {"use.friction", "use.press_N", "use.film_mm", "cut.kerf_mm", "cut.scale_offset_rad"}
    left = [u for u in bowl.uncertain if not (broad and u.path in covered)]
    why = "known as a range, taken evenly over it"
    marks = {a.key: a.mark for a in bowl.assumptions}
    return [
        _even(u.name, u.unit, u.low, u.high, u.path, marks.get(_key_of(u.path), "given"), why) for u in left
    ]


def _key_of(path: str) -> str:
    """Key of the bowl file, whose name carries no unit."""
    return re.sub(r"_(mm|N|percent|rad)$", "", path)
