"""The history of a job as text, data and pages."""

from platemodel.bench.kit.report import Report, pdf
from platemodel.bench.record.result import as_data, as_text


def _pages(result):
    from platemodel.bench.record.page import record_pages

    return record_pages(result)


REPORT = Report(as_text, as_data, {"history.pdf": pdf(_pages)})
