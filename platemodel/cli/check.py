"""Read a job folder and say what is in it.

Say what was read, what was assumed, what looks odd, and every error. Taps that are kept are compared with the
model: at once, or in some seconds where the two lie apart.
"""

from platemodel.cli.common import Run, Verb, add_folder, add_json, add_quiet, show, teller
from platemodel.job import read_job
from platemodel.job.report import as_data, report


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    add_folder(verb)
    add_json(verb)
    add_quiet(verb)
    return _run


def _run(args):
    job = read_job(args.folder)
    if job.taps:
        from platemodel.bench.kit.taps_apart import with_taps_finding

        job = with_taps_finding(job, progress=teller(args))
    show(args, lambda: as_data(job), lambda: report(job))
