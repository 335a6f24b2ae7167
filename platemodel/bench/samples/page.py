"""The page of compared samples: A4, sideways."""

from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.page import LEFT, titled_page, write_lines
from platemodel.bench.samples.plots import draw_samples
from platemodel.bench.samples.result import JobSamples


def sample_page(result: JobSamples) -> Figure:
    """Lay out the page; save it without a tight bounding box."""
    figure = titled_page("Samples of wood", cautions=cautions.SAMPLES)
    top = None if result.job is None else result.job.top.wood
    draw_samples(result.comparison, figure.add_axes((0.08, 0.2, 0.88, 0.7)), top, "this top")
    write_lines(figure, [f"Ranked by {result.comparison.purpose.text}."], LEFT, 0.06)
    return figure
