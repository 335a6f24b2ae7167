"""Names for the types that signatures in this room use over and over."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

Floats = NDArray[np.float64]
Ints = NDArray[np.int_]
Sparse = sparse.spmatrix
Field = Callable[[Floats, Floats], Floats]  # of the two parameters, each (n,)
