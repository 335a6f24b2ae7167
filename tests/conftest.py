"""Reduced models are learnt by the tests themselves, and once: no earlier run may stand in for the code.

The folder that keeps them lives as long as the run. Worker processes and the kernels of notebooks inherit it.
"""

import gc
import os
import shutil
import tempfile

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


_last = [None]


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item):
    """Give the memory of the last file's models back: a writer that is killed is a copy of this process.

    Not when that file's last test is torn down: it holds its fixtures until the next one begins.
    """
    if _last[0] not in (None, item.path):
        from platemodel.fem.factors import give_back_memory

        gc.collect()
        give_back_memory()
    _last[0] = item.path
