"""Wood of a top as text, data and files."""

from platemodel.bench.kit.report import Report, csv, pdf
from platemodel.bench.wood.result import as_data, as_text


def _page(result):
    from platemodel.bench.wood.page import wood_page

    return wood_page(result)


REPORT = Report(
    as_text,
    as_data,
    {"wood_of_the_top.csv": csv(lambda result: result.table, 6), "wood_of_the_top.pdf": pdf(_page)},
)
