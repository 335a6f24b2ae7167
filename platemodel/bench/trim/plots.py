"""Pictures of trimming by tap: the bar's profile with the wood to take off, modes over stages.

Drawing functions draw on the Axes they are given and return it. Hatching, line and marker tell things apart
besides colour.
"""

import numpy as np
from matplotlib.axes import Axes

from platemodel.bench.kit.colours import AMBER, BAR, BLUE, INK, WOOD
from platemodel.bench.kit.typeset import TEXT, label_axes
from platemodel.bench.trim.result import JobTrim, cut_rows
from platemodel.instrument.bar_cuts import bridge_line
from platemodel.study.top.recognise import KNOWN
from platemodel.wood.estimate import HALF_WIDTH

OFF, MODEL = AMBER, BLUE
GAP = 0.028  # of the bar's length between two figures on the page
MOST_SHOWN = 12  # stages on the page; the last ones


def mode_name(number: int) -> str:
    """Return number and name of a mode."""
    return f"mode {number}, {KNOWN[number]}"


def draw_profile(result: JobTrim, ax: Axes, gap: float = GAP) -> Axes:
    """Profile of the bar now, the wood to take off hatched, heights at stations, the lowest bar allowed.

    Parameters
    ----------
    gap : float
        Share of the bar's length between two stations whose figures are shown, at least.
    """
    bar, p = result.stages[-1].bar, result.proposal
    x = np.union1d(bar.stations, p.bar.stations)
    mm, now, after = 1e3 * x, 1e3 * bar.height(x), 1e3 * p.bar.height(x)
    ax.fill_between(mm, 0, after, fc=WOOD, ec="none")
    ax.plot(mm, now, color=INK, lw=1.6, label="now")
    if p.depth:
        ax.fill_between(mm, after, now, fc="white", ec=OFF, hatch="xxxx", lw=0, label="take off")
        ax.plot(mm, after, color=OFF, lw=1.6, label="after the cut")
    ax.plot(mm, 1e3 * p.lowest.height(x), ":", color=MODEL, lw=1.6, label="lowest bar that the limits allow")
    middle = 1e3 * bridge_line(bar, result.x_bridge)
    ax.axvline(middle, color=INK, lw=0.6, ls="--")
    top = float(now.max())
    rows = cut_rows(result)
    shown = list(rows.loc[rows["place"] != "", "x_mm"])  # the ends and the bridge line
    for row in rows.itertuples():
        ax.plot([row.x_mm, row.x_mm], [0, row.now_mm], color=BAR, lw=0.5, ls=":")
        if not row.place:
            if np.abs(np.array(shown) - row.x_mm).min() < gap * np.ptp(mm):
                continue  # its figures would run into those beside it
            shown.append(row.x_mm)
        text = f"{row.now_mm:.1f}"
        if p.depth:
            off = f"−{row.take_off_mm:.1f}" if row.take_off_mm >= 0.05 else "–"
            text += f"\n{off}\n{row.after_mm:.1f}"
        weight = "bold" if row.place == "bridge line" else "normal"
        ax.text(row.x_mm, 1.06 * top, text, ha="center", fontsize=TEXT, color=INK, weight=weight)
    label = "now\n− off\nafter" if p.depth else "now"
    ax.text(
        mm[0] - 0.045 * np.ptp(mm), 1.06 * top, label, ha="right", fontsize=TEXT, style="italic", color=INK
    )
    ax.set_xlim(mm[0] - 0.03 * np.ptp(mm), mm[-1] + 0.03 * np.ptp(mm))
    ax.set_ylim(0, 1.02 * top)
    words = "along, mm from the lower edge (dashed: bridge line); height drawn larger"
    label_axes(ax, words, "mm from the plate")
    ax.spines[["top", "right"]].set_visible(False)
    ax.legend(fontsize=TEXT, frameon=False, loc="lower center", ncols=4)
    return ax


def draw_mode_stages(result: JobTrim, number: int, ax: Axes) -> Axes:
    """One mode over the stages: heard, model alone, both together with band; the next stage, the goal.

    Parameters
    ----------
    number : int
        1, 2 or 5.
    """
    p = result.proposal
    table = p.correction.table
    rows = table[table["number"] == number].tail(MOST_SHOWN)
    k, f, band = rows["stage"], rows["corrected_hz"], HALF_WIDTH * rows["sd_hz"]
    if len(rows) == 1:
        ax.errorbar(k, f, band, color=INK, lw=1.2, capsize=4)
    else:
        ax.fill_between(k, f - band, f + band, fc=BAR, alpha=0.3, lw=0)
    ax.plot(k, f, "-", color=INK, lw=1.4, label="taps and model")
    ax.plot(k, rows["computed_hz"], "--", color=MODEL, lw=1.2, marker=".", label="model alone")
    believed = rows[~rows["odd"]]
    ax.plot(believed["stage"], believed["heard_hz"], "o", ms=6, mfc="white", mec=INK, mew=1.3, label="heard")
    doubted = rows[rows["odd"]]
    if len(doubted):
        ax.plot(doubted["stage"], doubted["heard_hz"], "x", ms=7, color=INK, mew=1.5, label="heard, not used")
    row = p.expected[p.expected["number"] == number].iloc[0]
    last = int(k.iloc[-1])
    if p.depth:
        style = {"fmt": "D", "ms": 5, "color": OFF, "mfc": "white", "capsize": 4}
        ax.errorbar(last + 1, row.after_hz, HALF_WIDTH * row.sd_hz, label="expected after the cut", **style)
    if np.isfinite(row.goal_hz):
        ax.axhline(row.goal_hz, color=INK, lw=1.0, ls="-.", label="goal")
        low, high = ax.get_ylim()
        ax.set_ylim(min(low, row.goal_hz - 0.06 * (high - low)))  # clear of the frame
    ax.set_xlim(int(k.iloc[0]) - 0.5, last + 1.5)
    ax.set_xticks([*k, last + 1], [*(str(n) for n in k), "next"])
    ax.grid(alpha=0.3)
    return label_axes(ax, "stage", "Hz", mode_name(number))
