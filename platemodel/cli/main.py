"""The parser of all verbs, and what becomes of errors."""

import argparse
import errno
import json
import os
import sys
from contextlib import suppress
from pathlib import Path

from platemodel import __version__
from platemodel.cli import (
    blank,
    body,
    check,
    choose,
    day,
    flex,
    glue,
    history,
    layout,
    load,
    modes,
    new,
    note,
    notebooks,
    plan,
    samples,
    sound,
    strokes,
    taps,
    trim,
    wood,
)
from platemodel.cli.common import OK, PROBLEM, USAGE, UsageError
from platemodel.errors import AccuracyError, GeometryError, JobError, PlatemodelError
from platemodel.files import recover
from platemodel.files.names import MARK
from platemodel.job import read_job
from platemodel.job.report import problems_as_data
from platemodel.job.toml import shown

_READING = (errno.ENAMETOOLONG, errno.ELOOP, errno.ENOENT)
_HINTS = {
    errno.EACCES: "; see that you may write there, or give another folder with --out",
    errno.EROFS: "; the disk is read-only, copy the folder to another",
    errno.ENOSPC: "; make room on the disk and run this again",
    errno.ENAMETOOLONG: "; is this a file name at all?",
}

#: Kinds of findings about sizes that can make a shape which no model can hold.
_SIZES = ("size", "thin", "thick", "misfit", "sunk", "hollow", "symmetry", "wood", "hole", "plate")

VERBS = (  # in the order of the work
    new, check, plan, blank, samples, modes, taps, sound, flex, wood, load, body, choose, layout, glue, trim,
    strokes, day, note, history, notebooks,
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
    parser = _parser()
    try:
        args = parser.parse_args(argv)
    except SystemExit as stop:
        return int(stop.code or 0)
    if args.verb is None:
        parser.print_help()
        return OK
    try:
        _recover(args)
        return args.run(args) or OK
    except JobError as error:
        return _refused(error, args)
    except (AccuracyError, GeometryError) as error:
        print(f"platemodel {args.verb}: {error}", file=sys.stderr)
        for line in _suspects(args):
            print(f"  {line}", file=sys.stderr)
        return PROBLEM
    except PlatemodelError as error:
        print(f"platemodel {args.verb}: {error}", file=sys.stderr)
        return PROBLEM
    except (FileExistsError, UsageError) as error:
        print(f"platemodel {args.verb}: {error}", file=sys.stderr)
        return USAGE
    except BrokenPipeError:
        sys.stderr.close()
        return OK
    except OSError as error:
        print(f"platemodel {args.verb}: {_place_and_reason(error, args)}", file=sys.stderr)
        return PROBLEM


def _suspects(args):
    """Yield what is so far from the usual in a job that it may be why the model fails."""
    try:
        job = read_job(args.folder)
    except (PlatemodelError, OSError, TypeError, AttributeError):
        return
    odd = [f for f in job.findings if f.kind in _SIZES]
    if odd:
        yield "The job can be read, but its model cannot be worked out. What is far from the usual in it:"
        for finding in odd[:6]:
            yield f"- {finding.where}: {finding.message}"
    else:
        yield "The job can be read, but its model cannot be worked out. No measurement stands out; look"
        yield "through the list that platemodel check prints for one that is not this instrument's."


def _place_and_reason(error, args):
    """Which file or folder the system refused, and why; drafts are named by the folder that they are for."""
    place = Path(os.fsdecode(error.filename or getattr(args, "out", None) or getattr(args, "folder", "")))
    place = next((p.parent for p in (place, *place.parents) if p.name.startswith(MARK)), place)
    what = "cannot read" if error.errno in _READING else "cannot write to"
    hint = _HINTS.get(error.errno, "")
    return f"{what} {shown(str(place), 200)}: {error.strerror or error}{hint}"


def _recover(args):
    """Finish what an earlier run left half done in the folders that this one reads or writes, and say so."""
    folders = [getattr(args, name, None) for name in ("folder", "out")]
    folders = [folder for folder in folders if isinstance(folder, Path)]
    inside = []
    with suppress(OSError):  # what is wrong with a folder the verb itself will say
        inside = [path for folder in folders[:1] for path in folder.iterdir() if path.is_dir()]
    for folder in dict.fromkeys([*folders, *inside]):
        found = recover(folder)
        if found is not None:
            print(f"platemodel: {found}", file=sys.stderr)


def _parser():
    parser = argparse.ArgumentParser(
        prog="platemodel",
        description="Work out the bass bar for a violin, viola or cello top from your measurements.",
        epilog="platemodel VERB --help explains a verb. What comes out is an estimate, not an instruction to "
        "cut; the maker decides.",
    )
    parser.add_argument("--version", action="version", version=f"platemodel {__version__}")
    verbs = parser.add_subparsers(metavar="VERB", dest="verb", title="verbs, in the order of the work")
    for module in VERBS:  # its docstring is what the help says of the verb: a line, and more
        line, _, more = (module.__doc__ or "").partition("\n\n")
        words = f"{line[:1].lower()}{line[1:].rstrip('.')}"
        verb = verbs.add_parser(module.__name__.rpartition(".")[2], help=words, description=more)
        verb.set_defaults(run=module.add(verb))
    return parser


def _refused(error, args):
    count = len(error.problems)
    if getattr(args, "json", False):
        print(json.dumps(problems_as_data(error.problems), indent=2, ensure_ascii=False))
    folder = Path(getattr(args, "reading", None) or args.folder)
    folder = folder if folder.name else folder.resolve().name  # "." says nothing
    print(f"{folder}: {count} problem{'s' * (count != 1)} to mend", file=sys.stderr)
    for n, problem in enumerate(error.problems, 1):
        print(f"  {n}. {problem}", file=sys.stderr)
    return PROBLEM
