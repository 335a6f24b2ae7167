"""Flex tests of a job as text, data and files."""

from platemodel.bench.flex.result import as_data, as_table, as_text
from platemodel.bench.kit.report import Report, csv, pdf


def _page(result):
    from platemodel.bench.flex.page import flex_page

    return flex_page(result)


REPORT = Report(as_text, as_data, {"flexes_expected.csv": csv(as_table, 4), "flexes.pdf": pdf(_page)})
