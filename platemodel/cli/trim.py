"""Trim the glued bar by tap: find the next careful cut, or stop.

Keep what you heard at each stage of trimming in stages.csv of the job folder, correct the model of this top
by it, and propose the next cut: how much, where, what to expect, when to stop.
"""

import argparse
import sys

from platemodel.cli.common import (
    Run,
    UsageError,
    Verb,
    add_folder,
    add_number,
    add_output,
    in_metres,
    number,
    run_report,
    tones,
)
from platemodel.errors import JobError, Problem
from platemodel.instrument.bar_cuts import PLACES
from platemodel.instrument.flex_test import KINDS
from platemodel.job import read_job
from platemodel.job.stages import NUMBERS, STAGE_MODES, STAGES_FILE, StageRow, add_stage, read_stages
from platemodel.record import Record

_RANGE = {c.name: (c.low, c.high) for c in NUMBERS}
TONES = tones(STAGE_MODES, *_RANGE["f1_hz"])


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    add_folder(verb)
    add_output(verb, "the page and the tables")
    verb.add_argument(
        "--goal", type=TONES, default={}, metavar="MODE=HZ,...", help="tones wanted, as 5=345 or 5=345,2=150"
    )
    add_number(verb, "goal-height-mm", *_RANGE["height_mm"], "height wanted under the bridge, from the plate")
    add_number(verb, "goal-mass-g", 15, 900, "weight wanted of top and bar together")
    add_number(verb, "weighed-g", 15, 900, "the same as weighed now; else computed")
    for name, words in (("goal-flex", "sag wanted"), ("felt-flex", "sag as read now; else computed")):
        verb.add_argument(
            f"--{name}", type=_flex, metavar='"KIND=MM"', help=f"{words}, mm per 100 g, as along=0.12"
        )
    verb.add_argument(
        "--heard",
        type=TONES,
        metavar="MODE=HZ,...",
        help="what you heard at a new stage, bar on, as 1=88,2=156,5=352; it is added to stages.csv, as is a "
        "stage with --height-mm alone",
    )
    add_number(
        verb, "height-mm", *_RANGE["height_mm"], "height under the bridge at the new stage, from the plate"
    )
    names = ", ".join(p.name for p in PLACES)
    verb.add_argument(
        "--cut",
        type=_cut,
        metavar='"PLACE=MM"',
        help=f'what was cut to get to the new stage, as "all along=0.5"; places: {names}',
    )
    verb.add_argument("--note", default="", metavar="TEXT", help="remark for the new stage")
    verb.add_argument("--record", action="store_true", help="also write the new stage into the job's history")
    add_number(
        verb,
        "least-height-mm",
        *_RANGE["height_mm"],
        "never cut below this under the bridge; default 0.8 of the bar in job.toml",
    )
    add_number(
        verb,
        "least-end-mm",
        0.5,
        20,
        "never cut below this anywhere; default 2 for a violin, scaled with the body",
    )
    add_number(
        verb,
        "least-stiffness-percent",
        10,
        150,
        "least stiffness under the bass foot, of that with the bar in job.toml; default 90",
        default=90.0,
    )
    return _run


def _cut(text):
    name, _, depth = text.partition("=")
    known = [p.name for p in PLACES]
    if name.strip() not in known:
        msg = f"{text!r}: write PLACE=MM; places are {', '.join(known)}"
        raise argparse.ArgumentTypeError(msg)
    return name.strip(), number(*_RANGE["depth_mm"], "mm")(depth)


def _flex(text):
    kind, _, sag = text.partition("=")
    if kind.strip() not in KINDS:
        msg = f"{text!r}: write KIND=MM, as along=0.12; kinds are {', '.join(KINDS)}"
        raise argparse.ArgumentTypeError(msg)
    return {kind.strip(): number(0.001, 20, "mm per 100 g")(sag)}


def _sizes(args):
    """Goals of height, weight and flex, SI."""
    from platemodel.study.trimming.size_guides import PER_100_G, SizeGoal

    flex, felt = (
        {kind: sag / PER_100_G for kind, sag in (given or {}).items()}
        for given in (args.goal_flex, args.felt_flex)
    )
    if set(felt) - set(flex) or (args.weighed_g and args.goal_mass_g is None):
        msg = "--felt-flex goes with --goal-flex of the same kind, --weighed-g with --goal-mass-g"
        raise UsageError(msg)
    mass, weighed = (None if g is None else 1e-3 * g for g in (args.goal_mass_g, args.weighed_g))
    return SizeGoal(in_metres(args.goal_height_mm), mass, weighed, flex, felt)


def _run(args):
    sizes = _sizes(args)
    if not args.goal and not sizes:
        msg = "say where to stop: --goal (tones), --goal-height-mm, --goal-mass-g or --goal-flex"
        raise UsageError(msg)
    job = read_job(args.folder)
    from platemodel.bench.kit.needs import needed_bar
    from platemodel.bench.trim.report import REPORT
    from platemodel.bench.trim.result import job_trim

    bar = needed_bar(job, "trimming")
    if args.out is not None:
        REPORT.target_files(args.out, args.force)  # refuse before the new stage is kept
    rows = _stages(args, bar, job.top.bridge.x)

    def compute(tell):
        return job_trim(
            job,
            rows,
            args.goal,
            in_metres(args.least_height_mm),
            0.01 * args.least_stiffness_percent,
            in_metres(args.least_end_mm),
            progress=tell,
            sizes=sizes,
        )

    run_report(args, REPORT, compute)


def _stages(args, bar, x_bridge):
    """Stages of the job folder, to which a new one is added first."""
    rows = read_stages(args.folder)
    row = _new_row(args)
    if row is None:
        return rows
    if rows and row == rows[-1]:
        print(f"{STAGES_FILE} already ends with this stage; not added again", file=sys.stderr)
        return rows
    add_stage(args.folder, row, bar, x_bridge)
    rows = read_stages(args.folder)
    if args.record:
        _record(args.folder, rows[-1])
    return rows


def _new_row(args):
    if args.heard is None and args.height_mm is None:
        given = {"--cut": args.cut, "--note": args.note or None}
        alone = [name for name, value in given.items() if value is not None]
        if args.record:
            alone.append("--record")
        if alone:
            what = "goes with --heard or --height-mm, which make a new stage"
            raise JobError([Problem(STAGES_FILE, "", alone[0], what)])
        return None
    place, depth = args.cut or ("", None)
    return StageRow(in_metres(args.height_mm), place, in_metres(depth), args.heard or {}, args.note)


def _record(folder, row):
    values = {f"f{n}_hz": f for n, f in row.heard.items()}
    if row.height is not None:
        values["height_mm"] = round(1e3 * row.height, 3)
    if row.place:
        values |= {"place": row.place, "depth_mm": round(1e3 * row.depth, 3)}
    Record(folder).append("cut" if row.place else "tapped", values, row.note)
