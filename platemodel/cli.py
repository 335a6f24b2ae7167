"""Command line: new, check and modes.

Data go to stdout, messages to stderr; exit code 0 is ok, 1 a problem in the job, 2 wrong usage.
"""

import argparse
import json
import sys
from pathlib import Path

from platemodel import __version__
from platemodel.errors import JobError, PlatemodelError
from platemodel.job import read_job
from platemodel.job.report import as_data, problems_as_data, report
from platemodel.job.schema import KINDS
from platemodel.job.template import new_job

OK, PROBLEM, USAGE = 0, 1, 2


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
        return args.run(args)
    except JobError as error:
        return _refused(error, args)
    except PlatemodelError as error:
        print(f"platemodel: {error}", file=sys.stderr)
        return PROBLEM
    except BrokenPipeError:
        sys.stderr.close()
        return OK


def _parser():
    parser = argparse.ArgumentParser(
        prog="platemodel",
        description="Works out the bass bar for a violin, viola or cello top from measurements.",
        epilog="An estimate from your measurements, not an instruction to cut; the maker decides.",
    )  # fmt: skip
    parser.add_argument("--version", action="version", version=f"platemodel {__version__}")
    verbs = parser.add_subparsers(metavar="VERB", required=True)

    new = verbs.add_parser(
        "new", help="write a starter job folder", description="Write a starter job folder."
    )
    new.add_argument("folder", metavar="FOLDER", type=Path, help="folder to make")
    new.add_argument("--like", required=True, choices=KINDS, help="instrument whose usual figures fill in")
    new.add_argument("--body-length-mm", type=float, metavar="MM", help="measured body length")
    new.add_argument(
        "--force", action="store_true", help="replace the starter files in a folder that is there"
    )
    new.set_defaults(run=_new, json=False)

    check = verbs.add_parser(
        "check",
        help="read a job folder and say what it holds",
        description="Say what was read, what was assumed, what looks odd, and every error.",
    )
    check.add_argument("folder", metavar="FOLDER", type=Path, help="job folder")
    check.add_argument("--json", action="store_true", help="print JSON instead of text")
    check.set_defaults(run=_check)

    modes = verbs.add_parser(
        "modes",
        help="compute the plate modes of the top",
        description="Compute the plate modes of the free top, with its bar if there is one.",
    )
    modes.add_argument("folder", metavar="FOLDER", type=Path, help="job folder")
    modes.add_argument(
        "--out",
        metavar="DIR",
        type=Path,
        help="folder for the sheet and the table; nothing is written without it",
    )
    modes.add_argument("--json", action="store_true", help="print JSON instead of text")
    modes.add_argument("--force", action="store_true", help="replace files that are there")
    modes.add_argument("--no-bar", action="store_true", help="leave the bar out")
    modes.add_argument("--quiet", action="store_true", help="no messages on stderr")
    modes.set_defaults(run=_modes)
    return parser


def _new(args):
    try:
        files = new_job(args.folder, args.like, args.body_length_mm, args.force)
    except PlatemodelError as error:
        print(f"platemodel new: {error}", file=sys.stderr)
        return USAGE
    for path in files:
        print(path)
    print(f"Fill in {args.folder / 'job.toml'}, then: platemodel check {args.folder}", file=sys.stderr)
    return OK


def _check(args):
    job = read_job(args.folder)
    print(json.dumps(as_data(job), indent=2, ensure_ascii=False) if args.json else report(job), end="")
    return OK


def _refused(error, args):
    count = len(error.problems)
    if args.json:
        print(json.dumps(problems_as_data(error.problems), indent=2, ensure_ascii=False))
    print(f"{args.folder}: {count} problem{'s' * (count != 1)} to mend", file=sys.stderr)
    for n, problem in enumerate(error.problems, 1):
        print(f"  {n}. {problem}", file=sys.stderr)
    return PROBLEM


def _modes(args):
    def tell(text):
        if not args.quiet:
            print(f"{text} ...", file=sys.stderr, flush=True)

    job = read_job(args.folder)
    # the solver and the plotting library are loaded only here: check and new stay quick
    from platemodel.bench import mode_report

    try:
        if args.out is not None:
            mode_report.target_files(args.out, args.force)  # refuse before the computing, not after it
        result = mode_report.job_modes(job, bar=not args.no_bar, progress=tell)
        if args.json:
            print(json.dumps(mode_report.as_data(result), indent=2, ensure_ascii=False))
        else:
            print(mode_report.as_text(result), end="")
        if args.out is not None:
            tell("drawing the page")
            for path in mode_report.write_files(result, args.out, args.force):
                print(path, file=sys.stderr)
    except FileExistsError as error:
        print(f"platemodel modes: {error}", file=sys.stderr)
        return USAGE
    except BrokenPipeError:
        raise
    except OSError as error:
        print(f"platemodel modes: cannot write to {args.out}: {error.strerror}", file=sys.stderr)
        return PROBLEM
    return OK
