"""Closed body of a job as text, data and files."""

from platemodel.bench.body.result import as_data, as_text, case_table, tone_table
from platemodel.bench.kit.report import Report, csv, pdf


def _page(result):
    from platemodel.bench.body.page import body_page

    return body_page(result)


REPORT = Report(
    as_text,
    as_data,
    {"body.csv": csv(case_table, 5), "body_tones.csv": csv(tone_table, 5), "body.pdf": pdf(_page)},
)
