"""Taps found in recordings as text, data and files; what is kept goes into the job folder."""

from platemodel.bench.kit.report import Report, csv, page_pdf
from platemodel.bench.taps.result import as_data, as_text

REPORT = Report(
    as_text,
    as_data,
    {"tap_peaks.csv": csv(lambda result: result.peaks, 5), "taps.pdf": page_pdf(__package__, "tap_pages")},
)
