"""Choice of a bar as text, data and files."""

from platemodel.bench.choice.result import as_data, as_text
from platemodel.bench.kit.report import Report, csv, page_pdf

REPORT = Report(
    as_text,
    as_data,
    {
        "bar_choice.csv": csv(lambda result: result.choice.bands, 5),
        "bar_choice_margins.csv": csv(lambda result: result.choice.margins, 5),
        "bar_choice_curve.csv": csv(lambda result: result.choice.curve, 5),
        "bar_choice_others.csv": csv(lambda result: result.choice.comparison, 5),
        "bar_choice.pdf": page_pdf(__package__, "choice_pages"),
    },
)
