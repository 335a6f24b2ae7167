"""Layout, seat and cut list as text, data and files; the sheets on paper of two sizes."""

from platemodel.bench.kit.report import Report, csv, pdf
from platemodel.bench.layout.result import JobLayout, as_data, as_text
from platemodel.instrument.layout_distances import distance_table

TABLES = {
    "seat.csv": csv(lambda result: result.view.seat.table()),
    "cut_list.csv": csv(lambda result: result.cuts.table()),
    "layout.csv": csv(lambda result: distance_table(result.distances)),
}


def _layout_svg(result, path):
    from platemodel.bench import sheets

    with sheets.true_size():
        sheets.save_svg(sheets.layout_drawing(result), path)


def _template_svg(result, path):
    from platemodel.bench import sheets

    with sheets.true_size():
        sheets.save_svg(sheets.template_drawing(result), path)


DRAWINGS = {"layout.svg": _layout_svg, "template.svg": _template_svg}


def layout_report(paper: str = "A4", whole: bool = False) -> Report[JobLayout]:
    """Report with its sheets on a paper, ``A4`` or ``A3``; the whole top, or a strip along the bar."""

    def layout_pdf(result, path):
        from platemodel.bench import sheets

        with sheets.true_size():
            pdf(lambda r: sheets.layout_pages(r, paper, whole))(result, path)

    def template_pdf(result, path):
        from platemodel.bench import sheets

        with sheets.true_size():
            pdf(lambda r: sheets.template_pages(r, paper))(result, path)

    sheets_on_paper = {"layout.pdf": layout_pdf, "template.pdf": template_pdf}
    return Report(as_text, as_data, sheets_on_paper | DRAWINGS | TABLES)


REPORT = layout_report()
