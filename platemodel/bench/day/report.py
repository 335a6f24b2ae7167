"""The decisive day as text, data and files."""

from platemodel.bench.day.result import as_data, as_table, as_text
from platemodel.bench.kit.report import Report, csv, pdf


def _page(result):
    from platemodel.bench.day.page import day_sheet

    return day_sheet(result)


REPORT = Report(as_text, as_data, {"day_expected.csv": csv(as_table, 4), "day_sheet.pdf": pdf(_page)})
