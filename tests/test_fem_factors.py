"""Factorisations: they solve, they refuse, and their memory comes back."""

import ctypes
import gc
import os
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
from scipy.sparse import diags, eye, kron

from platemodel.errors import AccuracyError
from platemodel.fem.factors import factorise

SIDE, TIMES = 90, 12
STATUS = Path("/proc/self/statm")


@pytest.fixture(scope="module")
def matrix():
    """Five-point differences on a square, definite."""
    line = diags([-1.0, 2.05, -1.0], [-1, 0, 1], shape=(SIDE, SIDE))
    return (kron(eye(SIDE), line) + kron(line, eye(SIDE))).tocsc()


def test_solves_one_load_and_several(matrix):
    x = np.random.default_rng(1).standard_normal((SIDE**2, 2))
    factors = factorise(matrix)
    # condition number 160, so 14 digits are left; twelve are asked for
    assert factors.solve(matrix @ x) == pytest.approx(x, rel=1e-9, abs=1e-12)
    assert factors.solve(matrix @ x[:, 0]) == pytest.approx(x[:, 0], rel=1e-9, abs=1e-12)
    product = (factors.lower @ factors.upper)[factors.rows][:, factors.rows]
    assert abs(product - matrix).max() < 1e-12  # entries of 4, by rounding


def test_a_refused_matrix_leaves_the_next_one_alone(matrix):
    with pytest.raises(AccuracyError, match="cannot be factorised"):
        factorise(diags([1.0, 0.0, 2.0]).tocsc())
    assert factorise(matrix).solve(np.ones(SIDE**2)).min() > 0


def test_threads_at_once_get_their_own(matrix):
    def one(k):
        return k * factorise(k * matrix).solve(np.ones(SIDE**2))

    with ThreadPoolExecutor(3) as pool:
        found = list(pool.map(one, range(1, 7)))
    for x in found:
        assert x == pytest.approx(found[0], rel=1e-12)


def resident():
    """Bytes of this process in memory, after what is free was given back."""
    gc.collect()
    with suppress(OSError, AttributeError):
        ctypes.CDLL("libc.so.6").malloc_trim(0)
    return int(STATUS.read_text().split()[1]) * 4096


@pytest.mark.skipif(not STATUS.exists(), reason="no /proc to read the memory from")
@pytest.mark.parametrize("keeper", ["made in a pool", "let go of in a pool"])
def test_memory_comes_back_whichever_thread_lets_go(matrix, keeper):
    one = factorise(matrix)
    size = 16 * (one.lower.nnz + one.upper.nnz)  # a value and two indices an entry, some shared
    del one
    before = resident()
    for _ in range(TIMES):
        if keeper == "made in a pool":
            with ThreadPoolExecutor(1) as pool:
                factors = pool.submit(factorise, matrix).result()
            del factors
        else:
            box = [factorise(matrix)]
            thread = threading.Thread(target=box.clear)
            thread.start()
            thread.join()
    for _ in range(100):  # the thread that frees them may be a little behind
        if resident() - before < 0.25 * TIMES * size:
            return
        time.sleep(0.05)
    pytest.fail(f"{(resident() - before) / size:.1f} of {TIMES} factorisations are still held")


def test_python_ends_in_peace_with_factors_alive():
    words = "import scipy.sparse as s, platemodel.fem.factors as p; f = p.factorise(s.eye(4))"
    done = subprocess.run([sys.executable, "-c", words], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork here")
def test_a_copied_process_makes_its_own(matrix):
    kept = factorise(matrix)
    child = os.fork()
    if child == 0:
        same = np.array_equal(factorise(matrix).solve(np.ones(SIDE**2)), kept.solve(np.ones(SIDE**2)))
        os._exit(0 if same else 1)
    assert os.waitpid(child, 0)[1] == 0
