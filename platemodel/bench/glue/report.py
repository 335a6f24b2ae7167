"""Fitting and gluing as text, data and files."""

from platemodel.bench.glue.result import JobGlue, as_data, as_text, clamp_table
from platemodel.bench.kit.report import Report, csv, pdf
from platemodel.study.gluing.closing_on_top import locked_in_table

CLOSING, LOCKED = "glue_closing.csv", "glue_locked_in.csv"  # only where gaps were given


def names(gaps: bool) -> list[str]:
    """Files of a gluing, with or without gaps to close."""
    return [name for name in REPORT.files if gaps or name not in (CLOSING, LOCKED)]


def _page(result):
    from platemodel.bench.glue.page import glue_pages

    return glue_pages(result)


def _present(result: JobGlue):
    return names(result.locked is not None)


REPORT = Report(
    as_text,
    as_data,
    {
        "glue_clamps.csv": csv(clamp_table, 4),
        CLOSING: csv(lambda result: result.locked[0].closing.table, 4),
        LOCKED: csv(lambda result: locked_in_table(result.locked), 4),
        "glue_window.csv": csv(lambda result: result.window.table, 4),
        "glue.pdf": pdf(_page),
    },
    _present,
)
