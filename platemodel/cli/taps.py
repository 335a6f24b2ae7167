"""Find tap tones in WAV recordings and keep the ones you choose.

Find the taps in recordings of the free top, their peaks and damping, and which mode each peak may be. Nothing
is chosen for you: --keep writes your choice into taps.csv of the job folder.
"""

from dataclasses import replace
from pathlib import Path

from platemodel.cli.common import Run, Verb, add_bar_state, add_folder, add_output, run_report, tones
from platemodel.job import keep_taps, read_job
from platemodel.job.taps import MODES


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    add_folder(verb)
    verb.add_argument(
        "recordings", metavar="WAV", nargs="+", type=Path, help="recordings, of one or more taps each"
    )
    add_bar_state(verb, "a bar was on the top", "no bar was on the top; default as in job.toml")
    verb.add_argument(
        "--keep",
        metavar="MODE=HZ,...",
        type=tones(MODES, 1, 20000),
        default={},
        help="keep these peaks, as 1=82.3,2=151; each replaces what was kept for the same mode and state",
    )
    verb.add_argument("--no-model", action="store_true", help="do not predict the modes, which is quicker")
    add_output(verb, "the spectra and the table of peaks")
    return _run


def _run(args):
    job = read_job(args.folder)
    from platemodel.bench.taps.report import REPORT
    from platemodel.bench.taps.result import chosen_readings, job_taps
    from platemodel.taps import read_recording

    bar_on = job.measured.bar_on_top if args.bar_on is None else args.bar_on

    def compute(tell):
        recordings = []
        for path in args.recordings:
            tell(f"reading {path.name}")
            recordings.append(read_recording(path))
        result = job_taps(job, recordings, bar_on, not args.no_model, tell)
        kept = chosen_readings(result, args.keep)
        if kept:
            keep_taps(args.folder, kept)
        return replace(result, kept=kept)

    run_report(args, REPORT, compute)
