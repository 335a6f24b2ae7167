"""Closed body of a job as text, data and files."""

from platemodel.bench.body.result import as_data, as_text, case_table, margin_table, usual_tones
from platemodel.bench.kit.report import Report, csv, page_pdf

REPORT = Report(
    as_text,
    as_data,
    {
        "body.csv": csv(case_table, 5),
        "body_tones.csv": csv(usual_tones, 5),
        "body_margins.csv": csv(margin_table, 4),
        "body.pdf": page_pdf(__package__, "body_pages"),
    },
)
