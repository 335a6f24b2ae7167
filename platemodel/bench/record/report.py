"""The history of a job as text, data and pages."""

from platemodel.bench.kit.report import Report, page_pdf
from platemodel.bench.record.result import as_data, as_text

REPORT = Report(as_text, as_data, {"history.pdf": page_pdf(__package__, "record_pages")})
