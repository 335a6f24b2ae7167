"""Verb ``trim``."""

import argparse
import math
import sys

from platemodel.cli.common import OK, add_folder, add_output, number, show, teller
from platemodel.errors import JobError, Problem
from platemodel.instrument.bar_cuts import PLACES
from platemodel.job import read_job
from platemodel.job.stages import NUMBERS, STAGE_MODES, STAGES_FILE, StageRow, add_stage, read_stages
from platemodel.record import Record

_RANGE = {c.name: (c.low, c.high) for c in NUMBERS}


def add(verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "trim",
        help="trim the glued bar by tap: the next careful cut, or stop",
        description="Keep the taps of each stage of trimming in stages.csv of the job folder, correct the "
        "model of this top by them, and propose the next cut: how much, where, what to expect, when to stop.",
    )
    add_folder(verb)
    add_output(verb, "the sheet and the tables")
    verb.add_argument(
        "--goal", type=_tones, required=True, metavar="MODE=HZ,...", help="wanted, as 5=345 or 5=345,2=150"
    )
    verb.add_argument(
        "--heard",
        type=_tones,
        metavar="MODE=HZ,...",
        help="taps of a new stage, bar on, as 1=88,2=156,5=352; it is added to stages.csv",
    )
    verb.add_argument(
        "--height-mm",
        type=number(*_RANGE["height_mm"], "mm"),
        metavar="MM",
        help="height under the bridge at the new stage, from the plate",
    )
    names = ", ".join(p.name for p in PLACES)
    verb.add_argument(
        "--cut",
        type=_cut,
        metavar='"PLACE=MM"',
        help=f"what was cut to get to the new stage; places: {names}",
    )
    verb.add_argument("--note", default="", metavar="TEXT", help="for the new stage")
    verb.add_argument("--record", action="store_true", help="write the new stage into the job's history too")
    verb.add_argument(
        "--least-height-mm",
        type=number(*_RANGE["height_mm"], "mm"),
        metavar="MM",
        help="never cut below it under the bridge; default 0.8 of the bar in job.toml",
    )
    verb.add_argument(
        "--least-end-mm",
        type=number(0.5, 20, "mm"),
        metavar="MM",
        help="never cut below it anywhere; default 2 for a violin, scaled with the body",
    )
    verb.add_argument(
        "--least-stiffness-share",
        type=number(0.1, 1.5, ""),
        default=0.9,
        metavar="SHARE",
        help="least stiffness under the bass foot, of that with the bar in job.toml; default 0.9",
    )
    verb.set_defaults(run=_run)


def _tones(text):
    out = {}
    low, high = _RANGE["f1_hz"]
    for part in text.split(","):
        number, _, value = part.partition("=")
        try:
            mode, f = int(number), float(value)
        except ValueError:
            mode, f = 0, math.nan
        if mode not in STAGE_MODES or not low <= f <= high:
            modes = ", ".join(map(str, STAGE_MODES))
            msg = (
                f"{part!r}: MODE=HZ is needed, mode {modes}, {low:g} to {high:g} Hz with a point, as 5=345.5"
            )
            raise argparse.ArgumentTypeError(msg)
        if mode in out:
            msg = f"mode {mode} twice; give it once"
            raise argparse.ArgumentTypeError(msg)
        out[mode] = f
    return out


def _cut(text):
    name, _, depth = text.partition("=")
    known = [p.name for p in PLACES]
    if name.strip() not in known:
        msg = f"{text!r}: PLACE=MM is needed, places {', '.join(known)}"
        raise argparse.ArgumentTypeError(msg)
    return name.strip(), number(*_RANGE["depth_mm"], "mm")(depth)


def _run(args):
    tell = teller(args)
    job = read_job(args.folder)
    from platemodel.bench.trim import result as trim_report

    trim_report.check_job(job)
    if args.out is not None:
        trim_report.target_files(args.out, args.force)  # refuse before the computing, not after it
    rows = read_stages(args.folder)
    row = _new_row(args, rows)
    if row is not None and rows and row == rows[-1]:
        print(f"{STAGES_FILE} ends with this stage already; not added again", file=sys.stderr)
    elif row is not None:
        add_stage(args.folder, row, job.bar, job.top.bridge.x)
        rows = read_stages(args.folder)
        if args.record:
            _record(args.folder, rows[-1])
    result = trim_report.job_trim(
        job,
        rows,
        args.goal,
        None if args.least_height_mm is None else 1e-3 * args.least_height_mm,
        args.least_stiffness_share,
        None if args.least_end_mm is None else 1e-3 * args.least_end_mm,
        progress=tell,
    )
    show(args, lambda: trim_report.as_data(result), lambda: trim_report.as_text(result))
    if args.out is not None:
        tell("drawing the page")
        for path in trim_report.write_files(result, args.out, args.force):
            print(path, file=sys.stderr)
    return OK


def _new_row(args, rows):
    if args.heard is None:
        given = {"--height-mm": args.height_mm, "--cut": args.cut, "--note": args.note or None}
        alone = [name for name, value in given.items() if value is not None]
        if args.record:
            alone.append("--record")
        if alone:
            what = "goes with --heard, the taps of a new stage"
            raise JobError([Problem(STAGES_FILE, "", alone[0], what)])
        return None
    place, depth = args.cut or ("", None)
    height = None if args.height_mm is None else 1e-3 * args.height_mm
    return StageRow(height, place, None if depth is None else 1e-3 * depth, args.heard, args.note)


def _record(folder, row):
    values = {f"f{n}_hz": f for n, f in row.heard.items()}
    if row.height is not None:
        values["height_mm"] = round(1e3 * row.height, 3)
    if row.place:
        values |= {"place": row.place, "depth_mm": round(1e3 * row.depth, 3)}
    Record(folder).append("cut" if row.place else "tapped", values, row.note)
