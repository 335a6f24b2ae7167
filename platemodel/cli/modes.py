"""Verb ``modes``."""

from platemodel.cli.common import OK, Verbs, add_folder, add_no_bar, add_output, run_report
from platemodel.job import read_job


def add(verbs: Verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "modes",
        help="compute the plate modes of the top",
        description="Compute the plate modes of the free top, without and with its bar.",
    )
    add_folder(verb)
    add_output(verb, "the page and the table")
    add_no_bar(verb)
    verb.set_defaults(run=_run)


def _run(args):
    job = read_job(args.folder)
    from platemodel.bench.modes.report import REPORT
    from platemodel.bench.modes.result import job_modes

    run_report(args, REPORT, lambda tell: job_modes(job, not args.no_bar, progress=tell))
    return OK
