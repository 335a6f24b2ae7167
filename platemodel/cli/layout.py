"""Lay out the bar: sheets at 1:1, side template, cut list.

Work out distances for the dividers, conflicts, seat and cut list of the bar in job.toml. With --out, also
draw the layout and the side template at 1:1, as PDF and SVG.
"""

from platemodel.cli.common import (
    Run,
    Verb,
    add_folder,
    add_number,
    add_output,
    add_sheets,
    figures_from_options,
    in_metres,
    run_report,
)
from platemodel.job import read_job


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    add_folder(verb)
    add_output(verb, "the sheets and tables")
    add_sheets(verb)
    add_number(verb, "pitch-mm", 5, 50, "distance between stations; default 20", default=20.0)
    verb.add_argument(
        "--lines",
        action="store_true",
        help="instead, put two to four lines that the bar could have side by side; takes some ten seconds",
    )
    return _run


def _run(args):
    job = read_job(args.folder)
    if args.lines:
        from platemodel.bench.lines.report import REPORT
        from platemodel.bench.lines.result import job_lines

        run_report(args, REPORT, lambda tell: job_lines(job, progress=tell))
        return
    from platemodel.bench.layout.report import layout_report
    from platemodel.bench.layout.result import job_layout

    def compute(_):
        with figures_from_options():
            return job_layout(
                job, in_metres(args.spring_mm), in_metres(args.pitch_mm), in_metres(args.roughing_mm)
            )

    run_report(args, layout_report(args.paper, args.whole), compute)
