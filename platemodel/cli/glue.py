"""Verb ``glue``."""

import sys
from pathlib import Path

from platemodel.cli.common import OK, USAGE, add_folder, add_output, number, show, teller
from platemodel.errors import JobError, PlatemodelError, Problem
from platemodel.job import JOB_FILE, read_job
from platemodel.job.gaps import GAPS_FILE, read_gaps


def add(verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "glue",
        help="close gaps, place clamps, tell how long the glue stays liquid",
        description="Forces that close the gaps under the bar and what stays locked in; number, places, "
        "forces and order of the clamps; how long hot hide glue stays liquid. For the bench, with cautions.",
    )
    add_folder(verb)
    add_output(verb, "the sheet and the tables")
    verb.add_argument(
        "--gaps",
        type=Path,
        metavar="FILE",
        help=f"table of gaps; default {GAPS_FILE} in the job folder, if any",
    )
    verb.add_argument(
        "--spring-mm",
        type=number(0, 10, "mm"),
        metavar="MM",
        help="even spring on purpose: gap at each end; instead of a table",
    )
    verb.add_argument(
        "--blank-mm",
        type=number(3, 60, "mm"),
        metavar="MM",
        help="even height of the bar when glued, if its profile is planed afterwards",
    )
    verb.add_argument("--clamps", type=int, metavar="N", help="number of clamps; default the fewest")
    verb.add_argument(
        "--glue-c", type=number(40, 75, "°C"), default=60.0, metavar="C", help="glue; default 60"
    )
    for name, words in (("wood", "both woods when spread; default the room's"), ("room", "the air; else 20")):
        verb.add_argument(
            f"--{name}-c", type=number(0, 40 + 10 * (name == "wood"), "°C"), metavar="C", help=words
        )
    verb.add_argument(
        "--gram",
        type=int,
        choices=(164, 192, 251),
        default=192,
        help="gram strength of the glue; default 192",
    )
    verb.set_defaults(run=_run)


def _run(args):
    if args.gaps is not None and args.spring_mm is not None:
        words = "gaps that were read hold the spring already; give --gaps or --spring-mm, not both"
        print(f"platemodel glue: {words}", file=sys.stderr)
        return USAGE
    tell = teller(args)
    job = read_job(args.folder)
    if job.bar is None:
        raise JobError([Problem(JOB_FILE, "bar", "no such table", "gluing needs a bar; add the table [bar]")])
    gaps = _gaps(args, job.bar)
    from platemodel.bench.glue import result as glue_report

    if args.out is not None:
        glue_report.target_files(args.out, gaps is not None, args.force)  # refuse before the computing
    try:
        result = glue_report.job_glue(
            job,
            gaps,
            None if args.blank_mm is None else 1e-3 * args.blank_mm,
            args.clamps,
            args.glue_c,
            args.wood_c,
            args.room_c,
            args.gram,
            progress=tell,
        )
    except PlatemodelError:
        raise
    except ValueError as error:
        print(f"platemodel glue: {error}", file=sys.stderr)
        return USAGE
    show(args, lambda: glue_report.as_data(result), lambda: glue_report.as_text(result))
    if args.out is not None:
        tell("drawing the page")
        for path in glue_report.write_files(result, args.out, args.force):
            print(path, file=sys.stderr)
    return OK


def _gaps(args, bar):
    from platemodel.instrument.gaps import Gaps

    if args.spring_mm is not None:
        return Gaps.even_spring(bar.length, 1e-3 * args.spring_mm) if args.spring_mm > 0 else None
    path = args.gaps or args.folder / GAPS_FILE
    if args.gaps is None and not path.exists():
        return None
    return read_gaps(path, bar.length)
