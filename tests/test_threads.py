"""One thread for linear algebra, also where NumPy came first and in worker processes."""

import numpy as np
import scipy.linalg  # noqa: F401
from threadpoolctl import threadpool_info, threadpool_limits

import platemodel.fem  # noqa: F401
from platemodel.study.top.process_pool import local_workers
from platemodel.threads import one_blas_thread


def blas_threads():
    return [pool["num_threads"] for pool in threadpool_info() if pool["user_api"] == "blas"]


def test_the_mechanics_run_on_one_blas_thread_though_numpy_came_first():
    assert np.ones(1) == 1
    assert set(blas_threads()) == {1}


def test_the_limit_reaches_libraries_that_had_more():
    with threadpool_limits(limits=2, user_api="blas"):
        if set(blas_threads()) != {2}:  # a build without threads, or a machine with one core
            assert set(blas_threads()) == {1}
        one_blas_thread()
        assert set(blas_threads()) == {1}
    one_blas_thread()


def test_workers_run_on_one_blas_thread_each():
    with local_workers(1) as workers:
        assert set(workers.submit(blas_threads).result()) == {1}
