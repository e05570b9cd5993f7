"""Names for the arrays that pass between modules.

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

__all__ = ["Array", "ArrayLike", "BoolArray", "IntArray"]
