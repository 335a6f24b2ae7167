"""Verb ``taps``."""

import argparse
from pathlib import Path

from platemodel.cli.common import OK, add_folder, show, teller
from platemodel.job import keep_taps, read_job
from platemodel.job.taps import MODES


def add(verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "taps",
        help="find tap tones in WAV recordings and keep the ones you choose",
        description="Find taps in recordings of the free top, their peaks and damping, and which mode each "
        "may be. Nothing is chosen for you: --keep writes your choice into taps.csv of the job folder.",
    )
    add_folder(verb)
    verb.add_argument("recordings", metavar="WAV", nargs="+", type=Path, help="recording of one or more taps")
    state = verb.add_mutually_exclusive_group()
    state.add_argument(
        "--bar-on", dest="bar_on", action="store_true", default=None, help="a bar was on the top"
    )
    state.add_argument(
        "--bar-off", dest="bar_on", action="store_false", help="no bar; default as in job.toml"
    )
    verb.add_argument(
        "--keep",
        metavar="MODE=HZ,...",
        type=_choice,
        default={},
        help="keep these peaks, for example 1=82.3,2=151; a kept tone of the same mode and state is replaced",
    )
    verb.add_argument("--no-model", action="store_true", help="do not predict the modes (quick)")
    verb.add_argument("--json", action="store_true", help="print JSON instead of text")
    verb.add_argument("--quiet", action="store_true", help="no messages on stderr")
    verb.set_defaults(run=_run)


def _choice(text):
    out = {}
    for part in text.split(","):
        number, mark, value = part.partition("=")
        try:
            mode, f = int(number), float(value)
        except ValueError:
            mark = ""
        if not mark or mode not in MODES or not 0 < f < 1e5:
            msg = f"{part!r}: write mode=frequency, modes {MODES[0]} to {MODES[-1]}, as in 1=82.3,2=151"
            raise argparse.ArgumentTypeError(msg)
        if mode in out:
            msg = f"mode {mode} stands there twice"
            raise argparse.ArgumentTypeError(msg)
        out[mode] = f
    return out


def _run(args):
    tell = teller(args)
    job = read_job(args.folder)
    from platemodel.bench.taps import result as tap_report
    from platemodel.taps import read_recording

    bar_on = job.measured.bar_on_top if args.bar_on is None else args.bar_on
    recordings = [read_recording(path) for path in args.recordings]
    result = tap_report.tap_report(job, recordings, bar_on, not args.no_model, tell)
    kept = tap_report.chosen_readings(result, args.keep)
    if kept:
        args.out = args.folder  # where an error of writing points to
        keep_taps(args.folder, kept)
    show(args, lambda: tap_report.as_data(job, result, kept), lambda: tap_report.as_text(job, result, kept))
    return OK
