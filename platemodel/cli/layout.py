"""Verb ``layout``."""

import sys

from platemodel.cli.common import (
    OK,
    USAGE,
    add_cutting,
    add_folder,
    add_output,
    in_metres,
    number,
    show,
    teller,
)
from platemodel.errors import GeometryError
from platemodel.job import read_job


def add(verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "layout",
        help="lay out the bar: sheets at 1:1, side template, cut list",
        description="Distances for the dividers, conflicts, seat and cut list of the bar in job.toml. "
        "With --out: layout and side template at 1:1 as PDF and SVG, and the tables.",
    )
    add_folder(verb)
    add_output(verb, "the sheets and tables")
    verb.add_argument(
        "--paper", choices=("A4", "A3"), default="A4", help="paper of the PDF sheets, default A4"
    )
    verb.add_argument(
        "--pitch-mm",
        type=number(5, 50, "mm"),
        default=20.0,
        metavar="MM",
        help="distance of stations, default 20",
    )
    add_cutting(verb)
    verb.set_defaults(run=_run)


def _run(args):
    tell = teller(args)
    job = read_job(args.folder)
    from platemodel.bench.layout import result as layout_report

    if args.out is not None:
        layout_report.target_files(args.out, args.force)  # refuse before the computing, not after it
    try:
        result = layout_report.job_layout(
            job, 1e-3 * args.spring_mm, 1e-3 * args.pitch_mm, in_metres(args.roughing_mm)
        )
    except GeometryError:
        raise
    except ValueError as error:
        print(f"platemodel layout: {error}", file=sys.stderr)
        return USAGE
    show(args, lambda: layout_report.as_data(result), lambda: layout_report.as_text(result))
    if args.out is not None:
        for path in layout_report.write_files(result, args.out, args.force, args.paper, tell):
            print(path, file=sys.stderr)
    return OK
