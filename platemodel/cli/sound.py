"""Verb ``sound``."""

import sys

from platemodel.cli.common import OK, add_folder, add_output, show, teller
from platemodel.job import read_job


def add(verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "sound",
        help="make the predicted taps heard, as WAV files",
        description="Make the sound of the top held and tapped for modes 1, 2, 5, without and with bar.",
    )
    add_folder(verb)
    add_output(verb, "the WAV files")
    verb.add_argument("--no-bar", action="store_true", help="leave the bar out")
    verb.set_defaults(run=_run)


def _run(args):
    tell = teller(args)
    job = read_job(args.folder)
    from platemodel.bench.taps import sound_files

    bar = job.bar is not None and not args.no_bar
    if args.out is not None:
        sound_files.target_files(args.out, bar, args.force)  # refuse before the computing, not after it
    plates = sound_files.sound_modes(job, bar, tell)
    table = sound_files.sound_table(plates)
    show(args, lambda: sound_files.as_data(job, table), lambda: sound_files.as_text(job, table))
    if args.out is not None:
        for path in sound_files.write_sounds(plates, args.out, args.force):
            print(path, file=sys.stderr)
    return OK
