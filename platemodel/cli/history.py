"""Verb ``history``."""

from platemodel.cli.common import OK, PROBLEM, Verbs, add_folder, add_output, run_report
from platemodel.errors import JobError
from platemodel.record import read_history


def add(verbs: Verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "history",
        help="show the job's history, and check that no line was changed",
        description="Print the lines of history.jsonl, check their seals, and make pages with the pictures "
        "and a report for the owner.",
    )
    add_folder(verb)
    add_output(verb, "the pages")
    verb.set_defaults(run=_run)


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
