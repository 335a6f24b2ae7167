"""String load of a job as text, data and files."""

from platemodel.bench.kit.report import Report, csv, page_pdf
from platemodel.bench.load.result import as_data, as_text, margin_rows

REPORT = Report(
    as_text,
    as_data,
    {
        "string_load.csv": csv(lambda result: result.load.table, 4),
        "string_load_margins.csv": csv(margin_rows, 4),
        "string_load.pdf": page_pdf(__package__, "load_pages"),
    },
)
