"""The bench pack of a job: one set of sheets, pictures and tables, written together."""

import os
from collections.abc import Callable
from datetime import date
from pathlib import Path

from platemodel.bench.body import report as body_report
from platemodel.bench.glue import report as glue_report
from platemodel.bench.kit.needs import no_message
from platemodel.bench.kit.report import write_csv
from platemodel.bench.layout import report as layout_report
from platemodel.bench.lines import report as lines_report
from platemodel.bench.load import report as load_report
from platemodel.bench.modes import report as mode_report
from platemodel.bench.pack.plan import Plan
from platemodel.files import write_numbered_folder

PACK = "bench_pack.pdf"
FOLDER = "pack"


def write_pack(
    plan: Plan,
    folder: str | os.PathLike,
    paper: str = "A4",
    progress: Callable[[str], None] | None = None,
    whole: bool = False,
) -> list[Path]:
    """Write a pack into a new numbered folder; earlier packs are kept, and nothing is left of a failed one.

    Parameters
    ----------
    plan : Plan
    folder : path
        Made if missing; the pack is ``pack_001``, ``pack_002`` ... in it.
    paper : str
        ``A4`` or ``A3``, of the sheets at 1:1.
    progress : callable, optional
        Called with a short status message.
    whole : bool
        The layout of the whole top at 1:1, not only a strip along the bar.

    Returns
    -------
    list of Path
        The PDF first.

    Raises
    ------
    OSError
        The folder cannot be written to.
    ValueError
        Unknown paper.
    """
    tell = progress or no_message

    def write(draft, number):
        _write_parts(plan, draft, tell)
        tell("drawing the pack")
        _bind(plan, draft / PACK, paper, number, whole)

    target = write_numbered_folder(folder, FOLDER, write)
    return [target / PACK, *sorted(p for p in target.iterdir() if p.name != PACK)]


def _write_parts(plan, folder, tell):
    tell("drawing the layout")
    parts = [(plan.layout, layout_report.DRAWINGS | layout_report.TABLES)]
    parts += [
        (result, {name: report.files[name] for name in names})
        for result, report, names in (
            (plan.modes, mode_report.REPORT, ("plate_modes.csv",)),
            (plan.load, load_report.REPORT, ("string_load.csv", "string_load_margins.csv")),
            (plan.glue, glue_report.REPORT, ("glue_clamps.csv",)),
            (plan.lines, lines_report.REPORT, ("lines.csv",)),
            (plan.body, body_report.REPORT, ("body.csv", "body_tones.csv")),
        )
        if result is not None
    ]
    for result, writers in parts:
        for name, write in writers.items():
            write(result, folder / name)
    write_csv(plan.stops, folder / "stop_points.csv", 3)


def _bind(plan, path, paper, number, whole):
    from platemodel.bench import sheets
    from platemodel.bench.body.page import body_page
    from platemodel.bench.glue.page import glue_pages
    from platemodel.bench.lines.page import lines_page
    from platemodel.bench.load.page import load_page
    from platemodel.bench.modes.page import mode_page
    from platemodel.bench.pack.first_page import first_page
    from platemodel.bench.pack.frame import Stamp, stamped
    from platemodel.bench.pack.job_sheet import job_pages
    from platemodel.bench.pack.spring_page import spring_page
    from platemodel.bench.pack.stop_sheet import stop_sheet
    from platemodel.bench.pack.work_order import work_order_pages
    from platemodel.bench.record.owner_page import owner_page

    stamp = Stamp(plan.job.name, number, date.today().isoformat())
    with sheets.true_size():
        pages = [
            first_page(plan),
            *job_pages(plan),
            lines_page(plan.lines),
            *sheets.layout_pages(plan.layout, paper, whole),
            *sheets.template_pages(plan.layout, paper),
            *work_order_pages(plan),
            spring_page(plan),
            stop_sheet(plan),
            *glue_pages(plan.glue),
            mode_page(plan.modes),
            load_page(plan.load),
            *(body_page(one) for one in (plan.body,) if one is not None),
            owner_page(plan.job),
        ]
        sheets.save_pages(stamped(pages, stamp), path)
