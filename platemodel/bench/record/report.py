"""The history of a job as text, data and pages."""

from platemodel.bench.kit.report import Report, page_pdf, pdf
from platemodel.bench.record.result import as_data, as_text, told

OWNER = "owner.pdf"
DONE, FOUND = ("repaired", "fitted", "glued", "cut", "strung"), ("measured",)  # kinds of entries


def _owner(result):
    from platemodel.bench.record.owner_page import owner_page

    return owner_page(result.job, told(result, DONE), told(result, ("decided",)), told(result, FOUND))


def _present(result):
    return [name for name in FILES if result.job is not None or name != OWNER]


FILES = {"history.pdf": page_pdf(__package__, "record_pages"), OWNER: pdf(_owner)}
REPORT = Report(as_text, as_data, FILES, _present)
