"""Write a starter job folder.

Write a starter job folder, in which every field is explained.
"""

import sys
from pathlib import Path

from platemodel.cli.common import Run, UsageError, Verb, quoted
from platemodel.errors import PlatemodelError
from platemodel.job.schema import KINDS
from platemodel.job.template import new_job


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    verb.add_argument("folder", metavar="FOLDER", type=Path, help="folder to make")
    verb.add_argument("--like", required=True, choices=KINDS, help="whose usual figures fill the gaps")
    verb.add_argument("--body-length-mm", type=float, metavar="MM", help="measured body length")
    verb.add_argument("--force", action="store_true", help="replace starter files that are already there")
    return _run


def _run(args):
    try:
        files = new_job(args.folder, args.like, args.body_length_mm, args.force)
    except PlatemodelError as error:
        raise UsageError(str(error)) from error
    for path in files:
        print(path)
    print(
        f"Fill in {args.folder / 'job.toml'}, then: platemodel check {quoted(args.folder)}", file=sys.stderr
    )
