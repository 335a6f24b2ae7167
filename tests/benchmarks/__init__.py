"""Benchmarks: run by hand, never with the tests."""

import os

# one thread for linear algebra, set before numpy is loaded: several make small problems many times slower
for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

os.environ.setdefault("PLATEMODEL_CACHE", "off")  # what an earlier run has solved takes no time
