"""Works out the bass bar for a given violin, viola or cello top from workshop measurements."""

import os

# The sparse solver calls BLAS for very many small blocks; on two cores several BLAS threads make it three
# times slower. A value that the user has set stays; it counts if this comes before the import of numpy.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"
