"""The same strip as a banded stiffness matrix: an independent path, for checks and comparison.

The flexibilities of the straight elements are inverted and carried to their two ends (displacement
method, S. P. Timoshenko; from memory). Not used by the press.
"""

import numpy as np

from fitsim.arrays import Array
from fitsim.strip.beam import ElasticStrip, deformed_shape

__all__ = ["banded_stiffness", "solve_banded_stiffness"]


def banded_stiffness(strip: ElasticStrip) -> Array:
    """Stiffness of the strip at rest, built in at node 0, lower banded form (12, 6 (n - 1)).

    Unknowns are the displacements and rotations of nodes 1 .. n - 1 in the board's axes, six a
    node. The flexibilities of the elements are inverted and carried to their two ends.

    Parameters
    ----------
    strip : ElasticStrip
        The strip at rest.

    Returns
    -------
    numpy.ndarray
        Lower banded form, shape (12, 6 (n - 1)). [N/mm, N, N mm]
    """
    n = len(strip.position_mm)
    shape = deformed_shape(strip, np.zeros((n - 1, 6)))
    k_local = np.linalg.inv(strip.flexibility)
    ends = []
    for sign, node in ((-1.0, strip.position_mm[:-1]), (1.0, strip.position_mm[1:])):
        arm = shape.middle_mm - node
        X = np.zeros((n - 1, 3, 3))
        X[:, 0, 1], X[:, 0, 2], X[:, 1, 2] = -arm[:, 2], arm[:, 1], -arm[:, 0]
        X[:, 1, 0], X[:, 2, 0], X[:, 2, 1] = arm[:, 2], -arm[:, 1], arm[:, 0]
        back = np.swapaxes(shape.middle_frame, 1, 2)
        B = np.zeros((n - 1, 6, 6))
        B[:, :3, :3] = B[:, 3:, 3:] = sign * back
        B[:, :3, 3:] = -sign * back @ X
        ends.append(B)
    B = np.concatenate(ends, axis=2)
    K_e = np.swapaxes(B, 1, 2) @ k_local @ B
    banded = np.zeros((12, 6 * n))
    first = 6 * np.arange(n - 1)
    for i in range(12):
        for j in range(i + 1):
            banded[i - j, first + j] += K_e[:, i, j]  # columns differ within one (i, j)
    return banded[:, 6:]


def solve_banded_stiffness(banded: Array, load: Array) -> Array:
    """Displacements and rotations (6 (n - 1), c) under nodal loads, by banded Cholesky.

    Parameters
    ----------
    banded : numpy.ndarray
        From :func:`banded_stiffness`.
    load : numpy.ndarray
        Forces and moments at nodes 1 .. n - 1, shape (6 (n - 1), c). [N, N mm]

    Returns
    -------
    numpy.ndarray
        Displacements and rotations, shape (6 (n - 1), c). [mm, rad]
    """
    from scipy.linalg import cho_solve_banded, cholesky_banded

    factor = cholesky_banded(banded, lower=True, check_finite=False)
    return np.asarray(cho_solve_banded((factor, True), load, check_finite=False))
