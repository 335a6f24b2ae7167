"""Taps found in recordings as text and data; what is kept goes into the job folder, not into files."""

from platemodel.bench.kit.report import Report
from platemodel.bench.taps.result import as_data, as_text

REPORT = Report(as_text, as_data, {})
