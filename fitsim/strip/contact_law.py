"""The law of a touching point: one-sided contact with Coulomb friction, written so that it can be solved.

The law at each point: gap >= 0, normal force N >= 0, N gap = 0; |friction| <= mu N, and where a
point slides friction is mu N against the sliding (A. Signorini; C. A. de Coulomb). It is met as an
*augmented Lagrangian* (P. Alart and A. Curnier, Comput. Methods Appl. Mech. Eng. 92 (1991)): a spring
of moderate stiffness k acts beside the forces found so far, and those are renewed until the spring has
nothing left to do. With the compliance g of a point in series, k' = 1/(g + 1/k), and N', t' the forces so
far,

    x = N' - k' (gap + g N')                 N = w log(1 + exp(x / w))
    y = t' - k' (slid + g (t' - t0))         t = y / (1 + (|y| / (mu N))^p)^(1/p)

with t0 the friction at which the step began. The first rounds off the corner between open and touching
over a force w that is small against the mean, the second the corner between sticking and sliding.
Normal force and friction are one law: taking N from the iteration before diverges where bevels
wedge (a gain of mu/sin(tilt)). Sources from memory, no page seen. No wood and no rings here.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array, BoolArray
from fitsim.strip import kernels

__all__ = ["ContactLaw", "normal_before_N", "touch"]

_FAR = 40.0
"""Beyond this many times w the rounded corner is the corner itself, to the last digit."""


@dataclass(frozen=True, eq=False)
class ContactLaw:
    """The law at s slots of two points each, arrays of shape (s, 2) where not said otherwise.

    Attributes
    ----------
    stiffness_N_per_mm : numpy.ndarray
        k', with the compliance in series. [N/mm]
    compliance_mm_per_N : float
        g. [mm/N]
    friction : float
        mu. [-]
    rounding_N : float
        w. [N]
    sharpness : float
        p. [-]
    before_N : numpy.ndarray
        N' and t', (s, 2, 3). [N]
    gripped_N : numpy.ndarray
        t0, (s, 2, 2). [N]
    welded : numpy.ndarray or None
        Points whose normal force is counted from where they are, for turning back from a press: their
        x = `welded_N` - k' (gap - `welded_mm`); None for none.
    welded_N, welded_mm : numpy.ndarray
        x and gap there. [N, mm]
    """

    stiffness_N_per_mm: Array
    compliance_mm_per_N: float
    friction: float
    rounding_N: float
    sharpness: float
    before_N: Array
    gripped_N: Array
    welded: BoolArray | None = None
    welded_N: Array | float = 0.0
    welded_mm: Array | float = 0.0


def normal_before_N(normal_N: Array, rounding_N: float) -> Array:
    """The x of the law at which a normal force N > 0 is found: w log(exp(N/w) - 1). [N]

    Parameters
    ----------
    normal_N : numpy.ndarray
        Normal forces. [N]
    rounding_N : float
        w. [N]

    Returns
    -------
    numpy.ndarray
        Of the same shape. [N]
    """
    z = np.minimum(normal_N / rounding_N, _FAR)
    return np.where(z < _FAR, rounding_N * np.log(np.maximum(np.expm1(z), 1e-300)), normal_N)


def touch(law: ContactLaw, gap: Array, *, sticky: float = 1.0) -> tuple[Array, Array]:
    """Forces at gaps, and how they change with them.

    Parameters
    ----------
    law : ContactLaw
        The law.
    gap : numpy.ndarray
        Gap along the normal and sliding since the step began, (s, 2, 3). [mm]
    sticky : float
        How many times the friction's bound is raised: turning back, every point is first taken to stick.
        [-]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        Forces (s, 2, 3) [N] and their derivative (s, 2, 3, 3). [N/mm]
    """
    shape = gap.shape[:2]
    return kernels.forces_at(
        np.ascontiguousarray(gap),
        np.ascontiguousarray(law.before_N),
        np.ascontiguousarray(law.gripped_N),
        _each(law.stiffness_N_per_mm, shape),
        law.compliance_mm_per_N,
        law.friction * sticky,
        law.rounding_N,
        law.sharpness,
        np.zeros((0, 2), dtype=bool) if law.welded is None else law.welded,
        _each(law.welded_N, shape),
        _each(law.welded_mm, shape),
    )


def _each(value: Array | float, shape: tuple[int, ...]) -> Array:
    """A number of every point, in one run of memory."""
    if not isinstance(value, np.ndarray):
        return np.full(shape, value, dtype=np.float64)
    return np.ascontiguousarray(value if value.shape == shape else np.broadcast_to(value, shape))
