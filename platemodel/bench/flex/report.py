"""Flex tests of a job as text, data and files."""

from platemodel.bench.flex.result import as_data, as_table, as_text
from platemodel.bench.kit.report import Report, csv, page_pdf

REPORT = Report(
    as_text,
    as_data,
    {"flexes_expected.csv": csv(as_table, 4), "flexes.pdf": page_pdf(__package__, "flex_page")},
)
