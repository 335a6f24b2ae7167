"""Hear the predicted taps, as WAV files.

Make the sound of the top held and tapped for modes 1, 2 and 5, without and with its bar; with --body that of
the closed, strung body tapped on its bridge.
"""

from platemodel.cli.common import Run, UsageError, Verb, add_folder, add_no_bar, add_output, run_report
from platemodel.job import read_job


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    add_folder(verb)
    add_output(verb, "the WAV files")
    add_no_bar(verb)
    verb.add_argument(
        "--body",
        action="store_true",
        help="tap the bridge of the closed body instead, with no bar, a lower one, the bar, a higher one",
    )
    return _run


def _run(args):
    if args.body and args.no_bar:
        msg = "--body has the sound without bar among its own; leave --no-bar out"
        raise UsageError(msg)
    job = read_job(args.folder)
    if args.body:
        from platemodel.bench.sounds import body_sounds

        run_report(args, body_sounds.REPORT, lambda tell: body_sounds.job_body_sounds(job, tell))
        return
    from platemodel.bench.sounds.report import REPORT, names
    from platemodel.bench.sounds.result import job_sounds

    bar = job.bar is not None and not args.no_bar
    run_report(args, REPORT, lambda tell: job_sounds(job, bar, tell), names(bar))
