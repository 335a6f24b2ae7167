"""Close the gaps, place the clamps, and see how long the glue stays liquid.

Work out the forces that close the gaps under the bar and what stays locked in; how many clamps, where, how
hard and in which order; and how long hot hide glue stays liquid. For the bench, with cautions.
"""

from pathlib import Path

from platemodel.cli.common import (
    Run,
    UsageError,
    Verb,
    add_folder,
    add_number,
    add_output,
    figures_from_options,
    in_metres,
    run_report,
)
from platemodel.job import read_job
from platemodel.job.gaps import GAPS_FILE, read_gaps


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    add_folder(verb)
    add_output(verb, "the page and the tables")
    verb.add_argument(
        "--gaps",
        type=Path,
        metavar="FILE",
        help=f"table of gaps; default {GAPS_FILE} in the job folder, if it is there",
    )
    add_number(verb, "spring-mm", 0, 10, "even spring on purpose, as the gap at each end; instead of a table")
    add_number(
        verb,
        "blank-mm",
        3,
        60,
        "height of the bar if it is glued with an even height and planed to its profile afterwards",
    )
    verb.add_argument("--clamps", type=int, metavar="N", help="number of clamps; default as few as will do")
    add_number(verb, "glue-c", 40, 75, "temperature of the glue; default 60", default=60.0)
    for name, most, words in (
        ("wood", 50, "temperature of both woods when the glue is spread; default the room's"),
        ("room", 40, "temperature of the air; default the job's, or 20"),
    ):
        add_number(verb, f"{name}-c", 0, most, words)
    verb.add_argument(
        "--gram",
        type=int,
        choices=(164, 192, 251),
        default=192,
        help="gram strength of the glue; default 192",
    )
    return _run


def _run(args):
    if args.gaps is not None and args.spring_mm is not None:
        msg = "gaps that were read include the spring already; give --gaps or --spring-mm, not both"
        raise UsageError(msg)
    job = read_job(args.folder)
    from platemodel.bench.glue.report import REPORT, names
    from platemodel.bench.glue.result import job_glue
    from platemodel.bench.kit.needs import needed_bar

    gaps = _gaps(args, needed_bar(job, "gluing"))

    def compute(tell):
        with figures_from_options():
            return job_glue(
                job, gaps, in_metres(args.blank_mm), args.clamps, args.glue_c, args.wood_c, args.room_c,
                args.gram, progress=tell,
            )  # fmt: skip

    run_report(args, REPORT, compute, names(gaps is not None))


def _gaps(args, bar):
    from platemodel.instrument.gaps import Gaps

    if args.spring_mm is not None:
        return Gaps.even_spring(bar.length, in_metres(args.spring_mm)) if args.spring_mm > 0 else None
    path = args.gaps or args.folder / GAPS_FILE
    if args.gaps is None and not path.exists():
        return None
    return read_gaps(path, bar.length)
