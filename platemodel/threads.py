"""One thread for linear algebra, whatever was imported before this package."""

import numpy as np  # noqa: F401  # the limit reaches only libraries that are already loaded
import scipy.linalg  # noqa: F401
from threadpoolctl import threadpool_limits


def one_blas_thread() -> None:
    """Limit BLAS to one thread in this process, for good.

    The mechanics run on two threads of their own, and each calls BLAS for very many small blocks. On two
    cores the reduced model of a top took 19 s of processor time with one BLAS thread, and with two it was
    not done after 200 s: the BLAS threads of both wait for each other. Single small eigenproblems are two to
    five times slower with two; only products of tall matrices gain, and they hardly count.

    Environment variables would do the same only if they were set before NumPy is first imported, which a
    notebook has usually done by then. Whoever wants more threads for work of their own asks threadpoolctl
    for them after the import.
    """
    threadpool_limits(limits=1, user_api="blas")
