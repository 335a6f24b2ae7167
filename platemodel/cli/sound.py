"""Verb ``sound``."""

from platemodel.cli.common import OK, Verbs, add_folder, add_no_bar, add_output, run_report
from platemodel.job import read_job


def add(verbs: Verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "sound",
        help="hear the predicted taps, as WAV files",
        description="Make the sound of the top held and tapped for modes 1, 2 and 5, without and with its "
        "bar.",
    )
    add_folder(verb)
    add_output(verb, "the WAV files")
    add_no_bar(verb)
    verb.set_defaults(run=_run)


def _run(args):
    job = read_job(args.folder)
    from platemodel.bench.sounds.report import REPORT, names
    from platemodel.bench.sounds.result import job_sounds

    bar = job.bar is not None and not args.no_bar
    run_report(args, REPORT, lambda tell: job_sounds(job, bar, tell), names(bar))
    return OK
