"""Wood of a top as text, data and files."""

from platemodel.bench.kit.report import Report, csv, page_pdf
from platemodel.bench.wood.result import as_data, as_text

REPORT = Report(
    as_text,
    as_data,
    {
        "wood_of_the_top.csv": csv(lambda result: result.table, 6),
        "wood_of_the_top.pdf": page_pdf(__package__, "wood_page"),
    },
)
