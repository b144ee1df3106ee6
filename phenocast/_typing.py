"""Types that many modules share."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
Progress = Callable[[int, int, str], None]
"""Called with what is done, what there is to do and what is being done."""
