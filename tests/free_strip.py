"""The strip under forces, touching nothing: what closed forms of beams and rods are compared with."""

from dataclasses import replace

import numpy as np

from fitsim.arrays import Array
from fitsim.errors import NoConvergenceError
from fitsim.strip.beam import (
    ElasticStrip,
    Shape,
    deformation_under,
    deformed_shape,
    force_wrench,
    node_twist,
)

LOAD_STEPS, MOST_SWEEPS = 10, 200
"""Equal steps in which a strip that bends far is loaded, and sweeps in each at most."""

STANDS_STILL = 1e-9
"""Change of the shape in one sweep, over the strip's length, from which it is settled. [-]"""


def bend_under(strip: ElasticStrip, *, force_N: Array, large: bool = False) -> Shape:
    """Shape of the free strip under forces at its nodes that keep their direction.

    Parameters
    ----------
    strip : ElasticStrip
        The strip at rest.
    force_N : numpy.ndarray
        Forces at the nodes, shape (n, 3). [N]
    large : bool
        False: small displacements, statics in the shape at rest and the linear motion added to it.
        True: rotations of any size, statics in the deformed shape.

    Returns
    -------
    Shape
        Where the strip comes to rest.

    Raises
    ------
    NoConvergenceError
        If a load step does not settle.
    """
    none = np.zeros((len(strip.arc_mm), 6))
    shape = deformed_shape(strip, none)
    if not large:
        eps = deformation_under(strip, shape, force_wrench(shape.position_mm, force_N))
        twist = node_twist(shape, eps)
        u = twist[:, :3] + np.cross(twist[:, 3:], shape.position_mm)
        return replace(shape, position_mm=shape.position_mm + u)
    scale = float(strip.arc_mm.sum())
    eps = none
    for step in range(1, LOAD_STEPS + 1):
        force = force_N * (step / LOAD_STEPS)
        change, relax, last = np.inf, 1.0, np.inf
        for _ in range(MOST_SWEEPS):
            new = deformation_under(strip, shape, force_wrench(shape.position_mm, force))
            eps = eps + relax * (new - eps)
            moved = deformed_shape(strip, eps)
            change = float(np.abs(moved.position_mm - shape.position_mm).max()) / scale
            shape = moved
            if change < STANDS_STILL:
                break
            # Leaving the change of lever arms to the next sweep can overshoot: go half as far.
            relax, last = (0.5 * relax if change > last else min(1.0, 1.1 * relax)), change
        else:
            raise NoConvergenceError(f"shape still moves by {change:.1e} of its length")
    return shape
