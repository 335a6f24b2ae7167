"""Samples of wood as text, data and files."""

from platemodel.bench.kit.report import Report, csv, page_pdf, some_files
from platemodel.bench.samples.result import as_data, as_text

ON_TOP = "samples_on_top.csv"  # only with a job

FILES = {
    "samples.csv": csv(lambda result: result.comparison.table, 4),
    ON_TOP: csv(lambda result: result.on_top, 4),
    "samples.pdf": page_pdf(__package__, "sample_page"),
}
names = some_files(FILES, (ON_TOP,))  # with or without a job's top

REPORT = Report(as_text, as_data, FILES, lambda result: names(result.on_top is not None))
