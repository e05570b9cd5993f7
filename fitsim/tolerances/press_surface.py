"""A smooth surface laid through presses of one bowl: what a press would give, and how far that may be off.

A press of the elastic strip takes a moment, and chances ask for thousands of bowls that differ little. A
hundred of them are pressed; a number read off them is fitted by a quadratic in standardised coordinates,
its coefficients held small where few presses speak for them (a ridge: A. E. Hoerl and R. W. Kennard,
Technometrics 12 (1970), from memory). With prior variances 1/r of a linear and q/r of a quadratic term the
fit is that of

    K(x, x') = C + (x . x') / r + q (x . x')^2 / (2 r),    mean(x) = k(x) (K + I)^-1 y,

which needs no list of the terms. r and q are those with the least error on presses left out one at a
time, e_i = [(K + I)^-1 y]_i / [(K + I)^-1]_ii, so the error the surface states is one it has made on
presses it had not seen (C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning
(2006), chapter 5, from memory).

Deciding numbers are fitted where they are smooth: the share of the thickness sunk (1 less the overlap) and
the press there is over the press asked by their logarithms, the chance of splitting by the logarithm of its
odds. Where a turn has dropped out no press is asked: such a press tells of the overlap alone.

It knows no mechanics and answers at the one press that a bowl is judged at; what bowls like one do all
along a press is told by :mod:`fitsim.failure.bowl_emulator`, from columns that follow their mechanics.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, BoolArray, read_only
from fitsim.bowl.verdict import DecidingNumbers
from fitsim.errors import OutsideModelError

__all__ = [
    "LEAST_PRESSES",
    "MOST_LOG_ODDS",
    "MOST_LOG_PRESS",
    "SMOOTHED",
    "PressSurface",
    "smoothed",
    "surface_through",
]

LEAST_PRESSES = 12
"""With fewer no surface is laid."""

RIDGES = tuple(10.0**k for k in (1, 0, -1, -2, -3, -4))
QUADRATICS = (0.0, 0.01, 0.03, 0.1, 0.3, 1.0)
"""Ridges r, and sizes q of quadratic terms beside linear ones, that are tried."""

MAD_OF_NORMAL = 1.4826
"""Standard deviation of a normal number over the median of its size: 1/0.6745. [-]"""

CONSTANT = 1e4
"""Prior variance of the mean, in variances of the numbers fitted: as good as free. [-]"""

SMOOTHED = ("slot_left_mm", "log_sunk", "log_press_left", "log_odds_split", "log_friction_used")
"""Columns of :func:`smoothed`."""

LEAST_SUNK = 0.01
MOST_LOG_PRESS = math.log(4.0)
"""Four times the press there is asked for, or more than any: farther off is not told apart."""

MOST_LOG_ODDS = 14.0


@dataclass(frozen=True, eq=False)
class _Surface:
    """One number: how it was scaled, the ridge it was fitted with, and its errors on presses left out."""

    points: Array
    told: BoolArray
    middle: float
    scale: float
    ridge: float
    quadratic: float
    weights: Array
    inverse: Array
    noise: float
    left_out_mean: Array
    left_out_sd: Array
    error: float

    def predict(self, at: Array) -> tuple[Array, Array]:
        """Mean and standard deviation of a fresh press at places, shapes (n,)."""
        near = _kernel(at @ self.points.T, self.ridge, self.quadratic)
        own = _kernel(np.sum(at**2, axis=1), self.ridge, self.quadratic)
        unknown = np.maximum(own - np.sum((near @ self.inverse) * near, axis=1), 0.0)
        return self.middle + self.scale * (near @ self.weights), self.noise * np.sqrt(1 + unknown)

    def left_out(self, points: Array) -> tuple[Array, Array]:
        """The same at its own presses, each from the others alone."""
        mean, sd = self.predict(points)
        mean[self.told], sd[self.told] = self.left_out_mean, self.left_out_sd
        return mean, sd


@dataclass(frozen=True, eq=False)
class PressSurface:
    """Smooth surfaces through numbers read off presses of one bowl, each at the press it is judged at.

    Attributes
    ----------
    points : numpy.ndarray
        Standardised coordinates of the presses, shape (n, dimensions). [-]
    surfaces : tuple
        One for each column of numbers.
    """

    points: Array
    surfaces: tuple[_Surface, ...]

    @property
    def error(self) -> Array:
        """Root mean square error on presses left out, shape (columns,). [unit of the column]"""
        return np.array([s.error for s in self.surfaces])

    @property
    def left_out(self) -> tuple[Array, Array]:
        """Mean and standard deviation at each press from the others alone, shapes (n, columns)."""
        both = [s.left_out(self.points) for s in self.surfaces]
        return np.column_stack([b[0] for b in both]), np.column_stack([b[1] for b in both])

    def predict(self, points: Array) -> tuple[Array, Array]:
        """What presses at other points would give.

        Parameters
        ----------
        points : numpy.ndarray
            Standardised coordinates, shape (n, dimensions). [-]

        Returns
        -------
        tuple[numpy.ndarray, numpy.ndarray]
            Mean and standard deviation of each number of a fresh press, shapes (n, columns); the
            odd press far off is not in the deviation, but in :attr:`error`. [unit of the column]
        """
        at = np.atleast_2d(np.asarray(points, dtype=np.float64))
        both = [s.predict(at) for s in self.surfaces]
        return np.column_stack([b[0] for b in both]), np.column_stack([b[1] for b in both])


def _kernel(product: Array, ridge: float, quadratic: float) -> Array:
    """Prior covariance of places by the scalar product of their coordinates, in shares of the noise."""
    return np.asarray(CONSTANT + (product + quadratic * product**2 / 2) / ridge)


def surface_through(points: Array, values: Array) -> PressSurface:
    """Lay a smooth surface through every column of numbers.

    Parameters
    ----------
    points : numpy.ndarray
        Standardised coordinates of the presses, shape (n, dimensions). [-]
    values : numpy.ndarray
        Numbers read off them, where they are smooth (:func:`smoothed`), shape (n,) or (n, columns); nan
        where a press does not tell one. [unit of the column]

    Returns
    -------
    PressSurface
        With its error on presses left out.

    Raises
    ------
    OutsideModelError
        If fewer presses than :data:`LEAST_PRESSES` tell a number.

    Examples
    --------
    >>> x = np.random.default_rng(1).standard_normal((40, 2))
    >>> surface = surface_through(x, 3 + x[:, 0] - 0.5 * x[:, 0] * x[:, 1])
    >>> mean, sd = surface.predict(np.array([[1.0, -2.0]]))
    >>> round(mean.item(), 2)
    5.0
    """
    at = np.asarray(points, dtype=np.float64)
    columns = np.asarray(values, dtype=np.float64).reshape(len(at), -1)
    surfaces, known = [], dict[bytes, list[_Inverse]]()
    for column in columns.T:
        told = np.isfinite(column)
        if told.sum() < LEAST_PRESSES:
            message = (
                f"{told.sum()} presses tell what is asked; {LEAST_PRESSES} are needed to lay a surface"
            )
            raise OutsideModelError(message)
        # What takes long hangs on where was pressed, not on the number: most are told by the same presses.
        if told.tobytes() not in known:
            known[told.tobytes()] = _inverses(at[told])
        surfaces.append(_surface(at, column, told, known[told.tobytes()]))
    return PressSurface(read_only(at), tuple(surfaces))


_Inverse = tuple[float, float, Array]


def _inverses(at: Array) -> list[_Inverse]:
    """Each ridge and size of quadratic terms, with (K + I)^-1 of presses at these places."""
    along, own = at @ at.T, np.eye(len(at))
    return [
        (ridge, quadratic, np.asarray(np.linalg.inv(_kernel(along, ridge, quadratic) + own), np.float64))
        for ridge in RIDGES
        for quadratic in QUADRATICS
    ]


def _surface(points: Array, values: Array, told: BoolArray, inverses: Sequence[_Inverse]) -> _Surface:
    at, values = points[told], values[told]
    middle = float(values.mean())
    scale = max(float(values.std()), 1e-12)
    y = (values - middle) / scale
    tried: list[tuple[float, float, float, Array, Array]] = []
    for ridge, quadratic, inverse in inverses:
        weights = np.asarray(inverse @ y, dtype=np.float64)
        size = float(np.sqrt(np.mean((weights / np.diag(inverse)) ** 2)))
        tried.append((size, ridge, quadratic, weights, inverse))
    size, ridge, quadratic, weights, inverse = min(tried, key=lambda t: t[0])
    own: Array = np.diag(inverse).copy()
    away: Array = weights / own
    # Of presses left out, each over its own doubt: the odd one far off does not widen it for all.
    sure = np.abs(away) * np.sqrt(own)
    typical = min(MAD_OF_NORMAL * float(np.median(sure)), float(np.sqrt(np.mean(sure**2))))
    noise = scale * typical
    return _Surface(
        points=read_only(at),
        told=told,
        middle=middle,
        scale=scale,
        ridge=ridge,
        quadratic=quadratic,
        weights=read_only(weights),
        inverse=read_only(inverse),
        noise=noise,
        left_out_mean=read_only(np.asarray(middle + scale * (y - away), dtype=np.float64)),
        left_out_sd=read_only(np.asarray(noise / np.sqrt(own), dtype=np.float64)),
        error=scale * size,
    )


def smoothed(numbers: Sequence[DecidingNumbers]) -> Array:
    """Deciding numbers in the form in which they change smoothly from bowl to bowl.

    Parameters
    ----------
    numbers : sequence of DecidingNumbers
        One for each press.

    Returns
    -------
    numpy.ndarray
        Columns :data:`SMOOTHED`, shape (n, 5): slot left [mm]; logarithms of the share of the thickness
        sunk, of the press there is over the press asked (nan where a turn dropped out), of the odds of
        splitting (nan where nothing was pressed) and of friction used (nan where no press makes it hold).
        What lies far beyond a limit is held where it is told apart no more.
    """
    rows = []
    for n in numbers:
        sunk = 1 - max(n.overlap, 0.0)
        left = -math.log(max(n.press_asked, 1e-9)) if math.isfinite(n.press_asked) else -MOST_LOG_PRESS
        chance = np.clip(n.split_chance, 1e-12, 1 - 1e-12)
        odds = np.log(chance / (1 - chance))
        rows.append(
            (
                n.slot_left_mm,
                math.log(max(sunk, LEAST_SUNK)),
                min(max(left, -MOST_LOG_PRESS), MOST_LOG_PRESS) if n.overlap > 0 else math.nan,
                float(np.clip(odds, -MOST_LOG_ODDS, MOST_LOG_ODDS)),
                math.log(max(n.friction_used, 1e-3)) if n.press_asked < math.inf else math.nan,
            )
        )
    return np.array(rows).reshape(-1, len(SMOOTHED))
