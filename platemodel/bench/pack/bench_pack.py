"""The bench pack of a job: one set of sheets, pictures and tables, written together."""

import os
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from platemodel.bench.body import report as body_report
from platemodel.bench.glue import report as glue_report
from platemodel.bench.kit.report import write_csv
from platemodel.bench.layout import report as layout_report
from platemodel.bench.lines import report as lines_report
from platemodel.bench.load import report as load_report
from platemodel.bench.modes import report as mode_report
from platemodel.bench.pack.part_names import chosen
from platemodel.bench.pack.parts import part_pages
from platemodel.bench.pack.plan import Plan
from platemodel.files import write_numbered_folder
from platemodel.progress import Progress, no_message

PACK = "bench_pack.pdf"
FOLDER = "pack"


def write_pack(
    plan: Plan,
    folder: str | os.PathLike,
    paper: str = "A4",
    progress: Progress = no_message,
    whole: bool = False,
    only: Sequence[str] = (),
) -> list[Path]:
    """Write a pack into a new numbered folder; earlier packs are kept, and nothing is left of a failed one.

    Parameters
    ----------
    folder : path
        Made if missing; the pack is ``pack_001``, ``pack_002`` ... in it.
    paper : str
        ``A4`` or ``A3``, of the sheets at 1:1.
    whole : bool
        The layout of the whole top at 1:1, not only a strip along the bar.
    only : sequence of str
        Parts to bind, of `platemodel.bench.pack.part_names.PARTS`, for which the plan was made; default all.
        Of the pictures and tables beside them only theirs are written.

    Returns
    -------
    list of Path
        The PDF first.

    Raises
    ------
    OSError
        The folder cannot be written to.
    ValueError
        Unknown paper or part.
    """
    names = chosen(only)

    def write(draft, number):
        _write_parts(plan, draft, names, progress)
        progress("drawing the pack")
        _bind(plan, draft / PACK, paper, number, whole, names)

    target = write_numbered_folder(folder, FOLDER, write)
    return [target / PACK, *sorted(p for p in target.iterdir() if p.name != PACK)]


def _write_parts(plan, folder, names, tell):
    parts = []
    if {"layout", "template"} & set(names):
        tell("drawing the layout")
        parts.append((plan.layout, layout_report.DRAWINGS | layout_report.TABLES))
    parts += [
        (result, {name: report.files[name] for name in files})
        for part, result, report, files in (
            ("modes", plan.modes, mode_report.REPORT, ("plate_modes.csv",)),
            ("load", plan.load, load_report.REPORT, ("string_load.csv", "string_load_margins.csv")),
            ("glue", plan.glue, glue_report.REPORT, ("glue_clamps.csv",)),
            ("lines", plan.lines, lines_report.REPORT, ("lines.csv",)),
            ("body", plan.body, body_report.REPORT, ("body.csv", "body_tones.csv", "body_margins.csv")),
        )
        if result is not None and part in names
    ]
    for result, writers in parts:
        for name, write in writers.items():
            write(result, folder / name)
    if "stops" in names:
        write_csv(plan.stops, folder / "stop_points.csv", 3)


def _bind(plan, path, paper, number, whole, names):
    from platemodel.bench import sheets
    from platemodel.bench.pack.frame import Stamp, stamped

    stamp = Stamp(plan.job.name, number, date.today().isoformat())
    with sheets.true_size():
        sheets.save_pages(stamped(part_pages(plan, names, paper, whole), stamp), path)
