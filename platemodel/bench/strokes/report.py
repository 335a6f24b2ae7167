"""What a stroke does, as text, data and files."""

from platemodel.bench.kit.report import Report, csv, page_pdf
from platemodel.bench.strokes.result import as_data, as_table, as_text

REPORT = Report(
    as_text, as_data, {"strokes.csv": csv(as_table, 4), "strokes.pdf": page_pdf(__package__, "stroke_page")}
)
