"""Plate modes of a job as text, data and files."""

from platemodel.bench.kit.report import Report, csv, pdf
from platemodel.bench.modes.result import as_data, as_table, as_text


def _page(result):
    from platemodel.bench.modes.page import mode_page

    return mode_page(result)


REPORT = Report(as_text, as_data, {"plate_modes.csv": csv(as_table, 3), "plate_modes.pdf": pdf(_page)})
