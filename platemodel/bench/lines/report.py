"""Lines of a job's bar as text, data and files."""

from platemodel.bench.kit.report import Report, csv, page_pdf
from platemodel.bench.lines.result import as_data, as_text

REPORT = Report(
    as_text,
    as_data,
    {"lines.csv": csv(lambda result: result.table, 3), "lines.pdf": page_pdf(__package__, "lines_page")},
)
