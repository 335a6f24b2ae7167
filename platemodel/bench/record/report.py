"""The history of a job as text, data and pages."""

from platemodel.bench.kit.report import Report, pdf
from platemodel.bench.record.result import as_data, as_text, told


def _pages(result):
    from platemodel.bench.record.page import record_pages

    return record_pages(result)


def _owner(result):
    from platemodel.bench.record.owner_page import owner_page

    return owner_page(result.job, told(result, DONE), told(result, ("decided",)), told(result, FOUND))


def _present(result):
    return [name for name in REPORT.files if result.job is not None or name != OWNER]


OWNER = "owner.pdf"
DONE, FOUND = ("repaired", "fitted", "glued", "cut", "strung"), ("measured",)  # kinds of entries
REPORT = Report(as_text, as_data, {"history.pdf": pdf(_pages), OWNER: pdf(_owner)}, _present)
