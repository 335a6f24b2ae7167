"""What a finished figure shows, read from what is drawn in it: titles, curves, marks, bars."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

MOST_BARS = 12  # more columns than this are told by their ends
LEVEL = 5e-3  # of the axis' range: a curve that moves less is called level
MARKS = ("o", "s", "D", "^", "v", "x", "+", "d", "P", "X", "*")


def figure_words(figure: Figure) -> str:
    """Tell what is drawn in a figure, one sentence for each of its Axes.

    Returns
    -------
    str
        Figures come from the drawn data, so they follow them.
    """
    panels = [ax for ax in figure.axes if ax.get_label() != "<colorbar>"]
    return " ".join(f"{told}." for told in map(_panel, panels) if told)


def _panel(ax: Axes) -> str:
    titles = (ax.get_title(loc) for loc in ("left", "center", "right"))
    head = ", ".join(_flat(t).rstrip(".") for t in titles if t)
    if not ax.axison:  # a picture of a plate: its lines are places, not figures
        written = [w for w in (_flat(t.get_text()) for t in ax.texts) if any(c.isalpha() for c in w)]
        # a single one is a scale or a name at the side
        return ": ".join(part for part in (head, "; ".join(written)) if part) if len(written) > 2 else head
    if not head or ax.get_ylabel():
        head = ", ".join(part for part in (head, _flat(ax.get_ylabel())) if part)
    over = _flat(ax.get_xlabel())
    parts = [*_columns(ax), *(told for line in ax.lines if (told := _line(ax, line)))]
    named = f"{head} over {over}" if head and over else head or over
    return ": ".join(part for part in (named, "; ".join(parts)) if part)


def _flat(text):
    return " ".join(text.split())


def _line(ax, line: Line2D) -> str:
    name = _flat(str(line.get_label()))
    name = "" if name.startswith("_") else name
    x, y = (
        np.atleast_1d(np.ma.filled(np.ma.asarray(v, dtype=float), np.nan)) for v in line.get_data(orig=False)
    )
    if line.get_transform() == ax.get_yaxis_transform(which="grid"):
        return f"{name or 'level line'} at {_number(y[0])}"
    if line.get_transform() == ax.get_xaxis_transform(which="grid"):
        return f"{name or 'upright line'} at {_number(x[0])}"
    known = np.isfinite(x) & np.isfinite(y)
    x, y = x[known], y[known]
    if line.get_transform() != ax.transData or not len(x):
        return ""
    dots = line.get_linestyle() in ("None", "none", " ", "")
    if dots and line.get_marker() not in MARKS:
        return ""
    if len(x) == 1:
        return f"{name or 'mark'} at {_number(x[0])}, {_number(y[0])}"
    return f"{name or ('marks' if dots else 'curve')} {_course(ax, x, y)}"


def _course(ax, x, y):
    if len(x) > 3 and x[0] == x[-1] and y[0] == y[-1]:
        return (
            f"closed, {_number(x.min())} to {_number(x.max())} across, "
            f"{_number(y.min())} to {_number(y.max())} upwards"
        )
    ends = f"from {_number(y[0])} at {_number(x[0])} to {_number(y[-1])} at {_number(x[-1])}"
    range_ = abs(np.subtract(*ax.get_ylim()))
    if np.ptp(y) < LEVEL * range_:
        return f"level at {_number(y[0])} from {_number(x[0])} to {_number(x[-1])}"
    slack = LEVEL * range_  # that it may go back, all told, not from point to point
    if (np.maximum.accumulate(y) - y).max() < slack:
        return f"{ends}, rising"
    if (y - np.minimum.accumulate(y)).max() < slack:
        return f"{ends}, falling"
    most, least = int(np.argmax(y)), int(np.argmin(y))
    return (
        f"{ends}, highest {_number(y[most])} at {_number(x[most])}, "
        f"lowest {_number(y[least])} at {_number(x[least])}"
    )


def _columns(ax):
    for bars in (c for c in ax.containers if hasattr(c, "patches")):
        lying = getattr(bars, "orientation", "vertical") == "horizontal"
        axis = ax.yaxis if lying else ax.xaxis
        ticks = axis.get_ticklocs()
        labels = dict(
            zip(np.round(ticks, 6), (_flat(t.get_text()) for t in axis.get_ticklabels()), strict=False)
        )
        told = []
        for patch in bars.patches[:MOST_BARS]:
            low, wide = (patch.get_y(), patch.get_height()) if lying else (patch.get_x(), patch.get_width())
            size = patch.get_width() if lying else patch.get_height()
            name = labels.get(np.round(low + wide / 2, 6), "")
            told.append(f"{name} {_number(size)}".strip())
        name = "" if str(bars.get_label()).startswith("_") else f"{bars.get_label()}, "
        yield f"{name}bars {', '.join(told)}"


def _number(value):
    """Three digits, and never as a power of ten for what the bench reads."""
    if not np.isfinite(value):
        return "–"
    if 1e-3 < abs(value) < 1e6:
        digits = max(0, 2 - int(np.floor(np.log10(abs(value)))))
        text = f"{value:.{digits}f}"
        return (text.rstrip("0").rstrip(".") if "." in text else text).replace("-", "−")
    return f"{value:.3g}".replace("-", "−")
