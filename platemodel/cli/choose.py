"""Find the bar that does what you want, and how high it must be.

Find the lightest bar that meets your targets, or the nearest one and what is in the way. Targets given here
replace those in [targets] of job.toml one by one. With none at all, bar and strip of plate are to be as stiff
as those of the usual bar on the usual top.
"""

import argparse
from pathlib import Path

from platemodel.cli.common import (
    Run,
    UsageError,
    Verb,
    add_folder,
    add_number,
    add_output,
    errors_name,
    number,
    run_report,
    tones,
)
from platemodel.job import read_job

CHANGEABLE = ("height", "ends", "power", "length", "width", "line")
TUNED = (2, 5)  # modes that a goal may name
HEIGHTS = 3, 40  # mm


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    add_folder(verb)
    verb.add_argument(
        "--goal",
        metavar="MODE=HZ,...",
        type=tones(TUNED, 10, 900),
        default={},
        help="tones wanted, within 2 Hz, as 5=340 or 5=340,2=155",
    )
    verb.add_argument(
        "--ratio", metavar="R", type=number(1, 5, ""), help="mode 5 over mode 2, within 0.02; as 2.2"
    )
    verb.add_argument(
        "--least-stiffness",
        metavar="usual|old|N_PER_MM",
        type=_stiffness,
        help="least stiffness under the bass foot: that of the usual bar on the usual top, that of the "
        "old bar on this top, or in N/mm",
    )
    add_number(
        verb,
        "least-strip-percent",
        20,
        300,
        "least stiffness of bar and strip of plate, as a share of the usual",
    )
    add_number(verb, "least-height-mm", *HEIGHTS, "the bar is at least this high")
    add_number(verb, "most-height-mm", *HEIGHTS, "the bar is at most this high")
    add_number(verb, "most-bar-g", 0.5, 120, "the bar weighs at most this")
    add_number(verb, "most-sinking-mm", 0.01, 5, "the bass foot sinks at most this far on the first day")
    add_number(
        verb, "most-body-sinking-mm", 0.01, 5, "the same in the closed body, as the verb body tells it"
    )
    for sense, words in (("least", "at least"), ("most", "at most")):
        verb.add_argument(
            f"--{sense}-body-mobility-s-per-kg",
            metavar="S_PER_KG",
            type=number(0.001, 1, "s/kg"),
            help=f"the bass foot moves {words} this freely in the closed body, as the verb body tells it",
        )
    verb.add_argument(
        "--free", metavar="WHAT", type=_free, default=("height",),
        help=f"what may change, with commas between: {', '.join(CHANGEABLE)}; default height",
    )  # fmt: skip
    verb.add_argument("--blanks", metavar="CSV", type=Path, help="table of samples it might be made from")
    add_output(verb, "the page and the tables")
    return _run


def _stiffness(text):
    words = "N/mm, or one of the words usual and old"
    return text if text in ("usual", "old") else number(5, 2000, words)(text)


def _free(text):
    names = tuple(n.strip() for n in text.split(",") if n.strip())
    wrong = [n for n in names if n not in CHANGEABLE]
    if wrong or not names or len(set(names)) < len(names):
        msg = f"{text!r}: choose among {', '.join(CHANGEABLE)}, each once"
        raise argparse.ArgumentTypeError(msg)
    return names


def _asked(args):
    """Targets of the command line, as those of a job: SI."""
    out = {}
    if args.least_stiffness == "usual":
        out["foot_share"] = 1.0
    elif args.least_stiffness == "old":
        out["foot_of_old"] = 1.0
    elif args.least_stiffness is not None:
        out["foot"] = 1e3 * args.least_stiffness
    plain = {
        "strip_share": (args.least_strip_percent, 0.01),
        "mode_5": (args.goal.get(5), 1.0),
        "mode_2": (args.goal.get(2), 1.0),
        "ratio_5_to_2": (args.ratio, 1.0),
        "bar_mass": (args.most_bar_g, 1e-3),
        "sinking": (args.most_sinking_mm, 1e-3),
        "body_sinking": (args.most_body_sinking_mm, 1e-3),
        "least_body_mobility": (args.least_body_mobility_s_per_kg, 1.0),
        "most_body_mobility": (args.most_body_mobility_s_per_kg, 1.0),
        "least_height": (args.least_height_mm, 1e-3),
        "most_height": (args.most_height_mm, 1e-3),
    }
    return out | {name: value * scale for name, (value, scale) in plain.items() if value is not None}


def _run(args):
    least, most = args.least_height_mm, args.most_height_mm
    if least is not None and most is not None and not least < most:
        msg = f"--least-height-mm {least:g} must be below --most-height-mm {most:g}"
        raise UsageError(msg)
    job = read_job(args.folder)
    from platemodel.bench.choice import result as choice
    from platemodel.bench.choice.report import REPORT
    from platemodel.bench.kit.needs import needed_bar
    from platemodel.study.choosing.line_sensitivity import ONE_LINE

    needed_bar(job, "choosing")
    line = [name for name in args.free if name in ("length", "width")]
    if line and choice.OF_THE_BODY & set(choice.merged(job.targets, _asked(args))):
        msg = f"--free {','.join(line)}: {ONE_LINE}"
        raise UsageError(msg)
    blanks = {}
    if args.blanks is not None:
        from platemodel.job.samples import read_samples

        with errors_name(args, args.blanks):
            blanks = {s.name: s.estimate() for s in read_samples(args.blanks)}

    def compute(tell):
        return choice.job_choice(job, _asked(args), args.free, blanks, progress=tell)

    run_report(args, REPORT, compute)
