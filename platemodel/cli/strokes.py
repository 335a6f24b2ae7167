"""What a small stroke of plane or scraper does, place by place.

Compute how much a small stroke moves modes 1, 2 and 5 and the sinking under the bass foot: along the bar, and
anywhere on the top.
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
    from platemodel.bench.strokes.report import REPORT
    from platemodel.bench.strokes.result import job_strokes

    run_report(args, REPORT, lambda tell: job_strokes(job, not args.no_bar, progress=tell))
