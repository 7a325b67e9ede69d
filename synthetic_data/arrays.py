"""Names of array types, by what they hold; shapes are said where they are used."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]
Bools = NDArray[np.bool_]
