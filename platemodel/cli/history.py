"""Verb ``history``."""

from platemodel.cli.common import OK, PROBLEM, Verbs, add_folder, add_output, run_report
from platemodel.errors import JobError
from platemodel.record import read_history


def add(verbs: Verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "history",
        help="show the job's history, and check that no line was changed",
        description="Print the lines of history.jsonl, check their seals, and make pages with the pictures.",
    )
    add_folder(verb)
    add_output(verb, "the pages")
    verb.set_defaults(run=_run)


def _run(args):
    history = read_history(args.folder)
    from platemodel.bench.record.report import REPORT
    from platemodel.bench.record.result import JobHistory

    name, invented = _job(args.folder)
    run_report(args, REPORT, lambda _: JobHistory(history, name, invented))
    return OK if history.sound else PROBLEM


def _job(folder):
    """Name of the job, and whether it is invented; a history is shown even when job.toml cannot be read."""
    from platemodel.job import read_job

    try:
        job = read_job(folder)
    except JobError:
        return folder.resolve().name, False
    return job.name, job.invented
