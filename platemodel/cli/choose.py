"""Verb ``choose``."""

import argparse
import sys
from pathlib import Path

from platemodel.cli.common import OK, USAGE, add_folder, add_output, number, show, teller
from platemodel.job import read_job

FREE = ("height", "ends", "power", "length", "width")


def add(verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "choose",
        help="find the bar that meets your targets, and how high it must be",
        description="Find the lightest bar that meets targets, or the nearest one and what is in the way. "
        "Without targets here or in [targets] of job.toml: bar and strip of plate as stiff as those of the "
        "usual bar on the usual top.",
    )
    add_folder(verb)
    verb.add_argument(
        "--stiffness-of", metavar="usual|N_PER_MM", type=_stiffness,
        help="least stiffness under the bass foot: that of the usual bar on the usual top, or in N/mm",
    )  # fmt: skip
    verb.add_argument(
        "--strip-percent", metavar="PERCENT", type=number(20, 300, "%"),
        help="least stiffness of bar and strip of plate, of the usual",
    )  # fmt: skip
    verb.add_argument("--mode5-hz", metavar="HZ", type=number(10, 900, "Hz"), help="mode 5, within 2 Hz")
    verb.add_argument("--mode2-hz", metavar="HZ", type=number(10, 900, "Hz"), help="mode 2, within 2 Hz")
    verb.add_argument("--ratio", metavar="R", type=number(1, 5, ""), help="mode 5 over mode 2, within 0.02")
    verb.add_argument("--bar-mass-g-max", metavar="G", type=number(0.5, 120, "g"), help="most it may weigh")
    verb.add_argument("--height-mm", metavar="LEAST:MOST", type=_span, help="limits of the height, as 10:14")
    verb.add_argument(
        "--sinking-mm-max", metavar="MM", type=number(0.01, 5, "mm"),
        help="most that the bass foot may sink on the first day",
    )  # fmt: skip
    verb.add_argument(
        "--free", metavar="WHAT", type=_free, default=("height",),
        help=f"what may change, with commas: {', '.join(FREE)} (default height)",
    )  # fmt: skip
    verb.add_argument("--blanks", metavar="CSV", type=Path, help="table of samples it might be made from")
    add_output(verb, "the page and the tables")
    verb.set_defaults(run=_run)


def _stiffness(text):
    return text if text == "usual" else number(5, 2000, "N/mm, or the word usual")(text)


def _span(text):
    low, mark, high = text.partition(":")
    read = number(3, 40, "mm on either side of the colon, as in 10:14")
    if not mark:
        msg = f"{text!r}: give both limits with a colon, as 10:14"
        raise argparse.ArgumentTypeError(msg)
    ends = read(low), read(high)
    if not ends[0] < ends[1]:
        msg = f"{text!r}: the least must be below the most"
        raise argparse.ArgumentTypeError(msg)
    return ends


def _free(text):
    names = tuple(n.strip() for n in text.split(",") if n.strip())
    wrong = [n for n in names if n not in FREE]
    if wrong or not names or len(set(names)) < len(names):
        msg = f"{text!r}: choose among {', '.join(FREE)}, each once"
        raise argparse.ArgumentTypeError(msg)
    return names


def _asked(args):
    """Targets of the command line, as those of a job: SI."""
    out = {}
    if args.stiffness_of == "usual":
        out["foot_share"] = 1.0
    elif args.stiffness_of is not None:
        out["foot"] = 1e3 * args.stiffness_of
    plain = {
        "strip_share": (args.strip_percent, 0.01),
        "mode_5": (args.mode5_hz, 1.0),
        "mode_2": (args.mode2_hz, 1.0),
        "ratio_5_to_2": (args.ratio, 1.0),
        "bar_mass": (args.bar_mass_g_max, 1e-3),
        "sinking": (args.sinking_mm_max, 1e-3),
    }
    out |= {name: value * scale for name, (value, scale) in plain.items() if value is not None}
    if args.height_mm:
        out |= dict(zip(("least_height", "most_height"), (1e-3 * h for h in args.height_mm), strict=True))
    return out


def _run(args):
    tell = teller(args)
    job = read_job(args.folder)
    if job.bar is None:
        print(f"platemodel choose: {args.folder} has no bar; add [bar] to job.toml", file=sys.stderr)
        return USAGE
    blanks = {}
    if args.blanks is not None:
        from platemodel.job.samples import read_samples

        folder, args.folder = args.folder, args.blanks  # what an error message names
        blanks = {s.name: s.estimate() for s in read_samples(args.blanks)}
        args.folder = folder
    from platemodel.bench.choice import result as choice_report

    if args.out is not None:
        choice_report.target_files(args.out, args.force)  # refuse before the computing, not after it
    result = choice_report.job_choice(job, _asked(args), args.free, blanks, progress=tell)
    show(args, lambda: choice_report.as_data(result), lambda: choice_report.as_text(result))
    if args.out is not None:
        tell("drawing the page")
        for path in choice_report.write_files(result, args.out, args.force):
            print(path, file=sys.stderr)
    return OK
