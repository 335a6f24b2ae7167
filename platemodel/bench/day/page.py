"""The sheet of the decisive day: A4 sideways, how to go about it above, a table to fill in below."""

import textwrap

from matplotlib.figure import Figure

from platemodel.bench.day.result import JobDay, day_heights
from platemodel.bench.kit import cautions
from platemodel.bench.kit.colours import INK
from platemodel.bench.kit.page import LEFT, titled_page, write_head

STEPS = (
    "Take a practice top that may be spoilt, measured as a job. Weigh it, tap modes 1, 2 and 5, flex it "
    "along, across and in twist, all without bar: the first row.",
    "Glue the bar at its full height and let it stand a day or more: glue brings water. Read the second row.",
    "Plane the bar down a millimetre at a time under the bridge, its ends as they are. At each height: brush "
    "it off, weigh, tap each mode three times, flex each way three times, and write the means down at once.",
    "Same hold, same mallet, same pegs on pencil marks, same weights. Read the humidity every time: damp air "
    "can move a tap as much as a millimetre of bar does.",
    "Do not look at the model's figures before the last row is written: this sheet leaves them out.",
)
COLUMNS = (
    "bar\nmm", "measured\nmm", "weight\ng", "mode 1\nHz", "mode 2\nHz", "mode 5\nHz", "along\ng", "along\nmm",
    "across\ng", "across\nmm", "twist\ng", "twist\nmm", "humidity\n%", "room\n°C", "note",
)  # fmt: skip
WIDTH, TOP, PITCH = 0.92, 0.60, 0.045


def day_sheet(result: JobDay) -> Figure:
    """Lay out the sheet.

    Returns
    -------
    matplotlib.figure.Figure
        Exactly A4; save it without a tight bounding box.
    """
    job = result.job
    figure = titled_page(f"The decisive day: {job.name}", cautions.invented_note(job), cautions.DAY)
    write_head(figure, "How", LEFT, 0.895, 10)
    y = 0.87
    for k, step in enumerate(STEPS, 1):
        for j, part in enumerate(textwrap.wrap(step, 150)):
            figure.text(LEFT, y, f"{k}. {part}" if j == 0 else f"    {part}", fontsize=9, color=INK)
            y -= 0.0225
    heights = [0.0, *day_heights(job)]
    share = [1.0] * (len(COLUMNS) - 1) + [1.8]
    edges = [LEFT]
    for part in share:
        edges.append(edges[-1] + WIDTH * part / sum(share))
    low = TOP - PITCH * (len(heights) + 1)
    ax = figure.add_axes((0, 0, 1, 1))
    ax.set_axis_off()
    ax.set_xlim(0, 1)
    ax.set_ylim(0, 1)
    for x in edges:
        ax.plot([x, x], [low, TOP], color=INK, lw=0.5)
    for k in range(len(heights) + 2):
        ax.plot([edges[0], edges[-1]], [TOP - PITCH * k] * 2, color=INK, lw=0.9 if k < 2 else 0.4)
    for x, after, head in zip(edges, edges[1:], COLUMNS, strict=False):
        ax.text(0.5 * (x + after), TOP - 0.5 * PITCH, head, ha="center", va="center", fontsize=8, color=INK)
    for k, height in enumerate(heights, 1):
        text = f"{height:.0f}" if height else "none"
        middle, y = 0.5 * sum(edges[:2]), TOP - PITCH * (k + 0.5)
        ax.text(middle, y, text, ha="center", va="center", fontsize=10, color=INK)
    write = "Type the rows into day.csv of the job folder (same columns), and run `platemodel day` on it."
    figure.text(LEFT, low - 0.03, write, fontsize=9, color=INK)
    return figure
