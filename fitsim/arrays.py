"""Names for the arrays that pass between modules, and how they are kept from being changed.

``numpy.typing`` is loaded only by a type checker: importing it costs a fifth of importing numpy.
"""

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]
    IntArray = NDArray[np.int64]
    BoolArray = NDArray[np.bool_]
else:
    Array = IntArray = BoolArray = ArrayLike = np.ndarray

__all__ = ["Array", "ArrayLike", "BoolArray", "IntArray", "frozen", "read_only"]


def frozen(values: object) -> Array:
    """Copy an array that somebody else may still write to, so that a frozen dataclass is frozen throughout.

    Parameters
    ----------
    values : array_like
        Any shape.

    Returns
    -------
    numpy.ndarray
        A copy that cannot be written to; of what was made here and nobody else has, :func:`read_only` makes
        none.
    """
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


def read_only(array: Array) -> Array:
    """Bar an array from being written to.

    Parameters
    ----------
    array : numpy.ndarray
        Any shape.

    Returns
    -------
    numpy.ndarray
        The same numbers, in one run of memory; the array itself where it is so already.

    """
    array = np.ascontiguousarray(array, dtype=np.float64)
    array.setflags(write=False)
    return array
