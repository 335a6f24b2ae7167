"""Verb ``body``."""

import sys

from platemodel.cli.common import OK, add_folder, add_output, show, teller
from platemodel.job import read_job


def add(verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "body",
        help="the top on its ribs, strung: sinking, tilt, body tones, how freely the feet move",
        description="The top on ribs, linings, blocks, back and neck, under the whole pull of the strings, "
        "with the air inside: what the bar carries, and what it does to the sound. What was not measured "
        "follows the usual instrument and widens the band. A comparison and a warning, not a certificate.",
    )
    add_folder(verb)
    add_output(verb, "the sheet and the tables")
    verb.set_defaults(run=_run)


def _run(args):
    tell = teller(args)
    job = read_job(args.folder)
    from platemodel.bench.body import result as body_report

    if args.out is not None:
        body_report.target_files(args.out, args.force)  # refuse before the computing, not after it
    result = body_report.job_body(job, progress=tell)
    show(args, lambda: body_report.as_data(result), lambda: body_report.as_text(result))
    if args.out is not None:
        tell("drawing the page")
        for path in body_report.write_files(result, args.out, args.force):
            print(path, file=sys.stderr)
    return OK
