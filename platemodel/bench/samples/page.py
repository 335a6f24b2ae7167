"""The page of compared samples: A4, sideways."""

from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.sheet import begun_sheet, write_items
from platemodel.bench.samples.plots import draw_samples
from platemodel.bench.samples.result import JobSamples


def sample_page(result: JobSamples) -> Figure:
    """Lay out the page; save it without a tight bounding box."""
    sheet = begun_sheet("Samples of wood", cautions=cautions.SAMPLES)
    top = None if result.job is None else result.job.top.wood
    low = sheet.floor + 28.0
    ranked = f"Ranked by {result.comparison.purpose.text}."
    write_items(sheet.ax, sheet.left, sheet.top, [ranked], sheet.room)
    ax = sheet.axes(sheet.left + 14.0, low, sheet.room - 16.0, sheet.top - low - 12.0)
    draw_samples(result.comparison, ax, top, "this top")
    return sheet.figure
