"""Samples of wood as text, data and files."""

from platemodel.bench.kit.report import Report, csv, pdf
from platemodel.bench.samples.result import JobSamples, as_data, as_text

ON_TOP = "samples_on_top.csv"  # only with a job


def names(on_top: bool) -> list[str]:
    """Files of a comparison, with or without a job's top."""
    return [name for name in REPORT.files if on_top or name != ON_TOP]


def _page(result):
    from platemodel.bench.samples.page import sample_page

    return sample_page(result)


def _present(result: JobSamples):
    return names(result.on_top is not None)


REPORT = Report(
    as_text,
    as_data,
    {
        "samples.csv": csv(lambda result: result.comparison.table, 4),
        ON_TOP: csv(lambda result: result.on_top, 4),
        "samples.pdf": pdf(_page),
    },
    _present,
)
