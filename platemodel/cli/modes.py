"""Compute the plate modes of the top.

Compute the plate modes of the free top, without and with its bar.
"""

from platemodel.cli.common import Run, Verb, add_folder, add_no_bar, add_output, run_report
from platemodel.job import read_job


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    add_folder(verb)
    add_output(verb, "the page and the table")
    add_no_bar(verb)
    return _run


def _run(args):
    job = read_job(args.folder)
    from platemodel.bench.modes.report import REPORT
    from platemodel.bench.modes.result import job_modes

    run_report(args, REPORT, lambda tell: job_modes(job, not args.no_bar, progress=tell))
