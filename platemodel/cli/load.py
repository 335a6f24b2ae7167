"""Verb ``load``."""

import argparse
import math
import sys

from platemodel.cli.common import OK, add_folder, add_output, show, teller
from platemodel.job import read_job


def add(verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "load",
        help="press the top with its strings: sinking, tilt, margins",
        description="Sinking under the strings with and without bar and sound post, tilt of the bridge, and "
        "stresses against strengths. A comparison and a warning, not a certificate.",
    )
    add_folder(verb)
    add_output(verb, "the sheet and the tables")
    verb.add_argument("--no-bar", action="store_true", help="leave the bar out")
    verb.add_argument(
        "--downforce-n",
        type=_newtons,
        metavar="N",
        help="load on the top in newtons, instead of tensions and angle",
    )
    verb.add_argument(
        "--service-class",
        type=int,
        choices=(1, 2, 3),
        default=1,
        help="of EN 1995-1-1, for strength and creep: 1 indoors (default), 2 under a roof, 3 outdoors",
    )
    verb.set_defaults(run=_run)


def _newtons(text):
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 5 <= value <= 1000:
        msg = f"{text!r}: allowed 5 to 1000 N"
        raise argparse.ArgumentTypeError(msg)
    return value


def _run(args):
    tell = teller(args)
    job = read_job(args.folder)
    from platemodel.bench.load import result as load_report

    if args.out is not None:
        load_report.target_files(args.out, args.force)  # refuse before the computing, not after it
    result = load_report.job_load(job, not args.no_bar, args.downforce_n, args.service_class, progress=tell)
    show(args, lambda: load_report.as_data(result), lambda: load_report.as_text(result))
    if args.out is not None:
        tell("drawing the page")
        for path in load_report.write_files(result, args.out, args.force):
            print(path, file=sys.stderr)
    return OK
