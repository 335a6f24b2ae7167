"""Type names that the signatures of this room share."""

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

Floats = NDArray[np.floating[Any]]
Ints = NDArray[np.integer[Any]]
Bools = NDArray[np.bool_]
Sparse = sparse.spmatrix
PlanFunction = Callable[[Floats, Floats], Floats]  # of the two parameters, each (n,)
