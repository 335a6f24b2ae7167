"""Plate modes of a job as text, data and files."""

from platemodel.bench.kit.report import Report, csv, page_pdf
from platemodel.bench.modes.result import as_data, as_table, as_text

REPORT = Report(
    as_text,
    as_data,
    {"plate_modes.csv": csv(as_table, 3), "plate_modes.pdf": page_pdf(__package__, "mode_page")},
)
