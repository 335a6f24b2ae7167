"""Copy the notebooks and lessons into a folder of your own.

Copy the notebooks and lessons, with the demo jobs and the documents they point to, into a new folder, to
follow and to change.
"""

import sys
from pathlib import Path

from platemodel.cli.common import Run, UsageError, Verb
from platemodel.errors import PlatemodelError


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    verb.add_argument("folder", metavar="DIR", type=Path, help="folder to make")
    return _run


def _run(args):
    from platemodel.bench.notebook.copies import copy_notebooks

    try:
        index = copy_notebooks(args.folder)
    except PlatemodelError as error:
        raise UsageError(str(error)) from error
    print(index)
    print(f"Start with: jupyter lab {args.folder}, and open notebooks/index.ipynb there", file=sys.stderr)
