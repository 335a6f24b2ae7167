"""How the top should sag on three pegs under a small weight, and what you read.

Compute how far the free top sags on three pegs under a weight, and under the bass foot's place on its whole
rim: bare, with its bar and with the old one. Your readings are set beside it.
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
    from platemodel.bench.flex.report import REPORT
    from platemodel.bench.flex.result import job_flex

    run_report(args, REPORT, lambda tell: job_flex(job, not args.no_bar, progress=tell))
