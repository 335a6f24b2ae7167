"""The sheet of the decisive day: A4 sideways, how to go about it above, a table to fill in below."""

import numpy as np
from matplotlib.figure import Figure

from platemodel.bench.day.result import JobDay, day_heights
from platemodel.bench.kit import cautions
from platemodel.bench.kit.colours import INK
from platemodel.bench.kit.sheet import HAIR, begun_sheet, rule, write_head, write_items
from platemodel.bench.kit.typeset import HEAD, write, write_broken

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
WRITE = "Type the rows into day.csv of the job folder (same columns), and run `platemodel day` on it."
COLUMNS = (
    "bar\nmm", "measured\nmm", "weight\ng", "mode 1\nHz", "mode 2\nHz", "mode 5\nHz", "along\ng", "along\nmm",
    "across\ng", "across\nmm", "twist\ng", "twist\nmm", "humidity\n%", "room\n°C", "note",
)  # fmt: skip
MOST_PITCH = 13.0  # mm of a row to write in
NOTE = 1.8  # width of the last column, against that of the others


def day_sheet(result: JobDay) -> Figure:
    """Lay out the sheet."""
    job = result.job
    sheet = begun_sheet(f"The decisive day: {job.name}", cautions.invented_note(job), cautions.DAY)
    ax, left, right = sheet.ax, sheet.left, sheet.right
    y = write_head(ax, left, sheet.top, "How")
    for k, step in enumerate(STEPS, 1):
        write(ax, left, y, f"{k}.")
        y = write_broken(ax, left + 5.0, y, step, sheet.room - 5.0)
    y = write_items(ax, left, y, [WRITE], sheet.room)
    _table(ax, left, right, (sheet.floor, y - 2.0), [0.0, *day_heights(job)])
    return sheet.figure


def _table(ax, left, right, room, heights):
    """Empty table with the heights in its first column, standing on the lower end of its room."""
    low, most = room
    pitch = min(MOST_PITCH, (most - low) / (len(heights) + 1))
    share = np.array([1.0] * (len(COLUMNS) - 1) + [NOTE])
    edges = left + (right - left) * np.concatenate([[0.0], np.cumsum(share) / share.sum()])
    top = low + pitch * (len(heights) + 1)
    for x in edges:
        ax.plot([x, x], [low, top], color=INK, lw=HAIR)
    for k in range(len(heights) + 2):
        rule(ax, left, right, top - pitch * k, 0.9 if k < 2 else HAIR)
    for x, after, name in zip(edges, edges[1:], COLUMNS, strict=False):
        write(ax, 0.5 * (x + after), top - 0.5 * pitch, name, ha="center", va="center")
    for k, height in enumerate(heights, 1):
        text = f"{height:.0f}" if height else "none"
        write(ax, 0.5 * sum(edges[:2]), top - pitch * (k + 0.5), text, HEAD, ha="center", va="center")
