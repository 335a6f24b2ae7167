"""Sparse factorisations that give their memory back, whichever thread lets go of them."""

import atexit
import ctypes
import os
import threading
import weakref
from collections.abc import Callable
from concurrent.futures import Future
from itertools import count
from queue import SimpleQueue

from scipy.sparse.linalg import SuperLU, splu

from platemodel.errors import AccuracyError
from platemodel.fem.arrays import Floats, Ints, Sparse


class Factors:
    """L U of a sparse symmetric definite matrix; made by `factorise`.

    Rows and columns are in another order there: entry (i, j) of the matrix is (rows[i], rows[j]) of L U.
    """

    def __init__(self, matrix: Sparse) -> None:
        maker = _idle.pop() if _idle else _Maker()
        try:
            self._held, self._key = maker.made(matrix)
        finally:
            _idle.append(maker)
        weakref.finalize(self, maker.tasks.put, self._key).atexit = False

    def solve(self, loads: Floats) -> Floats:
        """Solve for one right side (n,) or several (n, k)."""
        return self._held[self._key].solve(loads)

    @property
    def lower(self) -> Sparse:
        """L, a copy that the factors keep from then on: sparse (n, n)."""
        return self._held[self._key].L

    @property
    def upper(self) -> Sparse:
        """U, a copy that the factors keep from then on: sparse (n, n)."""
        return self._held[self._key].U

    @property
    def rows(self) -> Ints:
        """Where each row of the matrix stands in L U: (n,)."""
        return self._held[self._key].perm_r


class _Maker:
    """A thread that makes factors and lets go of them.

    SciPy gives the memory of factors back only in the thread that made them; let go in another, it is lost
    until the process ends. The threads of a pool come and go, so factors are made by threads that stay.
    """

    def __init__(self) -> None:
        self.tasks: SimpleQueue = SimpleQueue()  # may be put to while Python cleans up, unlike other queues
        self._held: dict[int, SuperLU] = {}
        self._thread = threading.Thread(target=self._work, name="factors", daemon=True)
        self._thread.start()
        _makers.append(self)

    def made(self, matrix: Sparse) -> tuple[dict[int, SuperLU], int]:
        """Where the factors of a matrix are held, and the key to them; put to ``tasks``, it drops them."""
        key = next(_keys)
        done: Future[None] = Future()
        self.tasks.put((key, matrix, done))
        try:
            done.result()
        except BaseException:  # the wait may have been broken off
            self.tasks.put(key)
            raise
        return self._held, key

    def end(self) -> None:
        """Drop everything and wait for the thread; SciPy stumbles over one that lives when Python ends."""
        self.tasks.put(None)
        self._thread.join()

    def _work(self) -> None:
        while (task := self.tasks.get()) is not None:
            if isinstance(task, int):
                self._held.pop(task, None)
                give_back_memory()
                continue
            self._make(*task)
            del task  # or the matrix would live until the next one
        self._held.clear()

    def _make(self, key: int, matrix: Sparse, done: Future[None]) -> None:
        try:
            self._held[key] = splu(
                matrix,
                permc_spec="MMD_AT_PLUS_A",
                diag_pivot_thresh=0.0,
                relax=1,  # no merging of small supernodes: a fifth faster on tops than the default
                options={"SymmetricMode": True},
            )
        except BaseException as error:
            done.set_exception(error)
        else:
            done.set_result(None)


def _trimmer() -> Callable[[int], int] | None:
    """Of the C library, where it has one (glibc): gives free memory back to the system."""
    try:
        return ctypes.CDLL(None).malloc_trim
    except (AttributeError, OSError, TypeError):
        return None


_trim = _trimmer()


def give_back_memory() -> None:
    """Give memory that is free back to the system.

    What factors and matrices leave behind lies in pieces between what lives on, in a store of each thread,
    and the library keeps it; a run that makes one model after another holds more and more.
    """
    if _trim is not None:
        _trim(0)


_keys = count()
_makers: list[_Maker] = []  # as many as ever made factors at once
_idle: list[_Maker] = []


@atexit.register
def _end() -> None:
    for maker in _makers:
        maker.end()


def _forget() -> None:
    """In a copied process, which has none of the threads."""
    _makers.clear()
    _idle.clear()


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_forget)


def factorise(matrix: Sparse) -> Factors:
    """Sparse LU of a symmetric definite matrix, ordered for symmetric fill.

    Parameters
    ----------
    matrix : sparse (n, n)

    Returns
    -------
    Factors
        Has ``solve``.

    Raises
    ------
    AccuracyError
        The matrix is singular.
    """
    try:
        return Factors(matrix.tocsc())
    except RuntimeError as error:
        msg = (
            f"the stiffness of {matrix.shape[0]} unknowns cannot be factorised ({error}); "
            "some motion has no stiffness at all, or an entry is not a number"
        )
        raise AccuracyError(msg) from error
