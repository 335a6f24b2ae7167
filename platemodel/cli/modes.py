"""Verb ``modes``."""

import sys

from platemodel.cli.common import OK, add_folder, add_output, show, teller
from platemodel.job import read_job


def add(verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "modes",
        help="compute the plate modes of the top",
        description="Compute the plate modes of the free top, with its bar if there is one.",
    )
    add_folder(verb)
    add_output(verb, "the sheet and the table")
    verb.add_argument("--no-bar", action="store_true", help="leave the bar out")
    verb.set_defaults(run=_run)


def _run(args):
    tell = teller(args)
    job = read_job(args.folder)
    from platemodel.bench.modes import result as mode_report

    if args.out is not None:
        mode_report.target_files(args.out, args.force)  # refuse before the computing, not after it
    result = mode_report.job_modes(job, bar=not args.no_bar, progress=tell)
    show(args, lambda: mode_report.as_data(result), lambda: mode_report.as_text(result))
    if args.out is not None:
        tell("drawing the page")
        for path in mode_report.write_files(result, args.out, args.force):
            print(path, file=sys.stderr)
    return OK
