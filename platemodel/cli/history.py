"""Show the job's history, and check that no line was changed.

Print the lines of history.jsonl, check their seals, and make pages with the pictures and a report for the
owner.
"""

from platemodel.cli.common import OK, PROBLEM, Run, Verb, add_folder, add_output, run_report
from platemodel.errors import JobError
from platemodel.record import read_history


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    add_folder(verb)
    add_output(verb, "the pages")
    return _run


def _run(args):
    history = read_history(args.folder)
    from platemodel.bench.record.report import REPORT
    from platemodel.bench.record.result import JobHistory

    job = _job(args.folder)
    name = args.folder.resolve().name if job is None else job.name
    result = JobHistory(history, name, job is not None and job.invented, job)
    run_report(args, REPORT, lambda _: result, REPORT.present(result))
    return OK if history.sound else PROBLEM


def _job(folder):
    """Job of the folder; None when job.toml cannot be read, since a history is shown even then."""
    from platemodel.job import read_job

    try:
        return read_job(folder)
    except JobError:
        return None
