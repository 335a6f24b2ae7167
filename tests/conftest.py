"""Reduced models are learnt by the tests themselves, and once: no earlier run may stand in for the code.

The folder that keeps them lives as long as the run. Worker processes and the kernels of notebooks inherit it.
"""

import ctypes
import gc
import os
import shutil
import tempfile
from contextlib import suppress

import pytest

VARIABLE = "PLATEMODEL_CACHE"


def pytest_configure(config):
    if hasattr(config, "workerinput"):  # a worker; whoever started it makes and removes the folder
        return
    folder = tempfile.mkdtemp(prefix="platemodel-tests-")
    before, os.environ[VARIABLE] = os.environ.get(VARIABLE), folder

    def clean():
        shutil.rmtree(folder, ignore_errors=True)
        if before is None:
            os.environ.pop(VARIABLE, None)
        else:
            os.environ[VARIABLE] = before

    config.add_cleanup(clean)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_teardown(item, nextitem):
    """Give the memory of a file's models back: a writer that is killed is a copy of this process."""
    result = yield
    if nextitem is None or nextitem.path != item.path:
        gc.collect()
        with suppress(OSError, AttributeError):  # no such C library: nothing to give back
            ctypes.CDLL("libc.so.6").malloc_trim(0)
    return result
