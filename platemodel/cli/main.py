"""The parser of all verbs, and what becomes of errors."""

import argparse
import json
import sys
from pathlib import Path

from platemodel import __version__
from platemodel.cli import (
    blank,
    check,
    choose,
    glue,
    history,
    layout,
    load,
    modes,
    new,
    note,
    plan,
    samples,
    sound,
    taps,
    trim,
    wood,
)
from platemodel.cli.common import OK, PROBLEM, USAGE
from platemodel.errors import JobError, PlatemodelError
from platemodel.files import recover
from platemodel.job.report import problems_as_data

VERBS = (  # in the order of the work
    new, check, plan, blank, samples, modes, taps, sound, wood, load, choose, layout, glue, trim, note,
    history,
)  # fmt: skip


def main(argv: list[str] | None = None) -> int:
    """Run the command line and return the exit code.

    Parameters
    ----------
    argv : list of str, optional
        Arguments without the program name; by default those of the process.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    try:
        args = _parser().parse_args(argv)
    except SystemExit as stop:
        return int(stop.code or 0)
    try:
        _recover(args)
        return args.run(args)
    except JobError as error:
        return _refused(error, args)
    except PlatemodelError as error:
        print(f"platemodel {args.verb}: {error}", file=sys.stderr)
        return PROBLEM
    except FileExistsError as error:
        print(f"platemodel {args.verb}: {error}", file=sys.stderr)
        return USAGE
    except BrokenPipeError:
        sys.stderr.close()
        return OK
    except OSError as error:
        out = getattr(args, "out", None)
        if out is None:
            raise
        print(f"platemodel {args.verb}: cannot write to {out}: {error.strerror}", file=sys.stderr)
        return PROBLEM


def _recover(args):
    """Finish what an earlier run left half done in the folders that this one reads or writes, and say so."""
    folders = [getattr(args, name, None) for name in ("folder", "out")]
    folders = [folder for folder in folders if isinstance(folder, Path)]
    inside = [path for folder in folders[:1] if folder.is_dir() for path in folder.iterdir() if path.is_dir()]
    for folder in dict.fromkeys([*folders, *inside]):
        found = recover(folder)
        if found is not None:
            print(f"platemodel: {found}", file=sys.stderr)


def _parser():
    parser = argparse.ArgumentParser(
        prog="platemodel",
        description="Works out the bass bar for a violin, viola or cello top from measurements.",
        epilog="An estimate from your measurements, not an instruction to cut; the maker decides.",
    )  # fmt: skip
    parser.add_argument("--version", action="version", version=f"platemodel {__version__}")
    verbs = parser.add_subparsers(metavar="VERB", required=True, dest="verb")
    for module in VERBS:
        module.add(verbs)
    return parser


def _refused(error, args):
    count = len(error.problems)
    if getattr(args, "json", False):
        print(json.dumps(problems_as_data(error.problems), indent=2, ensure_ascii=False))
    folder = Path(args.folder)
    folder = folder if folder.name else folder.resolve().name  # "." says nothing
    print(f"{folder}: {count} problem{'s' * (count != 1)} to mend", file=sys.stderr)
    for n, problem in enumerate(error.problems, 1):
        print(f"  {n}. {problem}", file=sys.stderr)
    return PROBLEM
