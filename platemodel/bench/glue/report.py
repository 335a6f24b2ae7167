"""Fitting and gluing as text, data and files."""

from platemodel.bench.glue.result import as_data, as_text, clamp_table
from platemodel.bench.kit.report import Report, csv, page_pdf, some_files
from platemodel.study.gluing.closing_on_top import locked_in_table

CLOSING, LOCKED = "glue_closing.csv", "glue_locked_in.csv"  # only where gaps were given

FILES = {
    "glue_clamps.csv": csv(clamp_table, 4),
    CLOSING: csv(lambda result: result.locked[0].closing.table, 4),
    LOCKED: csv(lambda result: locked_in_table(result.locked), 4),
    "glue_window.csv": csv(lambda result: result.window.table, 4),
    "glue.pdf": page_pdf(__package__, "glue_pages"),
}
names = some_files(FILES, (CLOSING, LOCKED))  # with or without gaps to close

REPORT = Report(as_text, as_data, FILES, lambda result: names(result.locked is not None))
