"""Trimming by tap as text, data and files."""

from platemodel.bench.kit.report import Report, csv, pdf
from platemodel.bench.trim.result import as_data, as_text, cut_rows, stage_rows


def _page(result):
    from platemodel.bench.trim.page import trim_page

    return trim_page(result)


REPORT = Report(
    as_text,
    as_data,
    {
        "trimming_cut.csv": csv(cut_rows, 3),
        "trimming_stages.csv": csv(stage_rows, 3),
        "trimming.pdf": pdf(_page),
    },
)
