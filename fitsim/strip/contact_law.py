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

from dataclasses import dataclass, field

import numpy as np

from fitsim.arrays import Array, BoolArray
from fitsim.strip import kernels

__all__ = ["ContactLaw", "normal_before_N", "touch"]

_NO_TIES = np.zeros((0, 2, 3))
_NONE = np.zeros((0, 2))
_NOT_WELDED = np.zeros((0, 2), dtype=bool)

_FAR = 40.0
"""Beyond this many times w the rounded corner is the corner itself, to the last digit."""


@dataclass(frozen=True, eq=False)
class ContactLaw:
    """The law at s slots of two points each; arrays of shape (s, 2) where not said otherwise, C-contiguous.

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
    welded_N: Array = field(default_factory=lambda: _NONE)
    welded_mm: Array = field(default_factory=lambda: _NONE)


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


def touch(
    law: ContactLaw, gap: Array, *, sticky: float = 1.0, tie_N_per_mm: Array = _NO_TIES
) -> tuple[Array, Array]:
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
    tie_N_per_mm : numpy.ndarray
        Of slots that are nails, the last ones: springs beside the forces so far, 0 where a component is not
        tied and carries nothing, (nails, 2, 3). [N/mm]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        Forces (s, 2, 3) [N] and their derivative (s, 2, 3, 3). [N/mm]
    """
    return kernels.forces_at(
        gap,
        law.before_N,
        law.gripped_N,
        law.stiffness_N_per_mm,
        law.compliance_mm_per_N,
        law.friction * sticky,
        law.rounding_N,
        law.sharpness,
        _NOT_WELDED if law.welded is None else law.welded,
        law.welded_N,
        law.welded_mm,
        tie_N_per_mm,
    )
