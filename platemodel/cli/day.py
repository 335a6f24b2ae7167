"""Settle in a day what a millimetre of bar does, on a practice top.

Print the sheet of the decisive day, a bar cut down on a practice top millimetre by millimetre, and judge the
readings in day.csv against the model and against what benches say.
"""

import sys
from pathlib import Path

from platemodel.cli.common import Run, Verb, add_folder, add_output, run_report
from platemodel.job import read_job


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    add_folder(verb)
    verb.add_argument(
        "--blank", action="store_true", help="write a day.csv to fill in into the folder, unless there is one"
    )
    add_output(verb, "the sheet and the table")
    return _run


def _run(args):
    job = read_job(args.folder)
    from platemodel.bench.day.report import REPORT
    from platemodel.bench.day.result import day_heights, job_day
    from platemodel.files import write_file
    from platemodel.job.day import DAY_FILE, blank_day, read_day

    path = Path(args.folder) / DAY_FILE
    if args.blank and not path.exists():
        write_file(path, blank_day((0.0, *day_heights(job))))
        print(f"{path}: written, to be filled in", file=sys.stderr)
    rows = read_day(args.folder)
    run_report(args, REPORT, lambda tell: job_day(job, rows, tell))
