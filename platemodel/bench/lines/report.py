"""Lines of a job's bar as text, data and files."""

from platemodel.bench.kit.report import Report, csv, pdf
from platemodel.bench.lines.result import as_data, as_text


def _page(result):
    from platemodel.bench.lines.page import lines_page

    return lines_page(result)


REPORT = Report(as_text, as_data, {"lines.csv": csv(lambda result: result.table, 3), "lines.pdf": pdf(_page)})
