"""Verb ``check``."""

from platemodel.cli.common import OK, Verbs, add_folder, add_json, show
from platemodel.job import read_job
from platemodel.job.report import as_data, report


def add(verbs: Verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "check",
        help="read a job folder and say what is in it",
        description="Say what was read, what was assumed, what looks odd, and every error.",
    )
    add_folder(verb)
    add_json(verb)
    verb.set_defaults(run=_run)


def _run(args):
    job = read_job(args.folder)
    show(args, lambda: as_data(job), lambda: report(job))
    return OK
