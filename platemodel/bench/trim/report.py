"""Trimming by tap as text, data and files."""

from platemodel.bench.kit.report import Report, csv, page_pdf
from platemodel.bench.trim.result import as_data, as_text, cut_rows, stage_rows

REPORT = Report(
    as_text,
    as_data,
    {
        "trimming_cut.csv": csv(cut_rows, 3),
        "trimming_stages.csv": csv(stage_rows, 3),
        "trimming.pdf": page_pdf(__package__, "trim_pages"),
    },
)
