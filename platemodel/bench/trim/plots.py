"""Pictures and page of trimming by tap: the bar's profile with the wood to take off, modes over stages.

Drawing functions draw on the Axes they are given and return it. Hatching, line and marker tell things apart
besides colour.
"""

import textwrap

import numpy as np
from matplotlib.figure import Figure

from platemodel.bench.kit.page import A4_MM
from platemodel.bench.kit.plots import BAR, INK, WOOD
from platemodel.bench.trim.result import BAND, CAUTIONS, JobTrim, cut_rows, expectation_lines
from platemodel.instrument.bar_cuts import bridge_line
from platemodel.study.trimming.tap_correction import MODES
from platemodel.wood.strength import FRACTILE

OFF, MODEL = "#b5651d", "#2f5d73"
NAMES = {1: "mode 1, twist", 2: "mode 2, cross", 5: "mode 5, ring"}
MOST_SHOWN = 12  # stages on the page; the last ones


def draw_profile(result: JobTrim, ax):
    """Profile of the bar now, the wood to take off hatched, heights at stations, the lowest bar allowed.

    Parameters
    ----------
    result : JobTrim
    ax : matplotlib.axes.Axes

    Returns
    -------
    matplotlib.axes.Axes
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
    for row in cut_rows(result).itertuples():
        ax.plot([row.x_mm, row.x_mm], [0, row.now_mm], color=BAR, lw=0.5, ls=":")
        if row.place != "bridge line" and abs(row.x_mm - middle) < 0.028 * np.ptp(mm):
            continue  # its figures would run into those of the bridge line
        text = f"{row.now_mm:.1f}"
        if p.depth:
            off = f"−{row.take_off_mm:.1f}" if row.take_off_mm >= 0.05 else "–"
            text += f"\n{off}\n{row.after_mm:.1f}"
        weight = "bold" if row.place == "bridge line" else "normal"
        ax.text(row.x_mm, 1.06 * top, text, ha="center", fontsize=7, color=INK, weight=weight)
    label = "now\n− off\nafter" if p.depth else "now"
    ax.text(mm[0] - 0.045 * np.ptp(mm), 1.06 * top, label, ha="right", fontsize=7, style="italic", color=INK)
    ax.set_xlim(mm[0] - 0.03 * np.ptp(mm), mm[-1] + 0.03 * np.ptp(mm))
    ax.set_ylim(0, 1.02 * top)
    ax.set_xlabel("along, mm from the lower edge (dashed: bridge line); height drawn larger", fontsize=7)
    ax.set_ylabel("mm from the plate", fontsize=7)
    ax.tick_params(labelsize=7)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    ax.legend(fontsize=7, frameon=False, loc="lower center", ncols=4)
    return ax


def draw_mode_stages(result: JobTrim, number: int, ax):
    """One mode over the stages: heard, model alone, both together with band; the next stage, the goal.

    Parameters
    ----------
    result : JobTrim
    number : int
        1, 2 or 5.
    ax : matplotlib.axes.Axes

    Returns
    -------
    matplotlib.axes.Axes
    """
    p = result.proposal
    table = p.correction.table
    rows = table[table["number"] == number].tail(MOST_SHOWN)
    k, f, band = rows["stage"], rows["corrected_hz"], FRACTILE * rows["sd_hz"]
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
        ax.plot(doubted["stage"], doubted["heard_hz"], "x", ms=7, color=INK, mew=1.5, label="not believed")
    row = p.expected[p.expected["number"] == number].iloc[0]
    last = int(k.iloc[-1])
    if p.depth:
        style = {"fmt": "D", "ms": 5, "color": OFF, "mfc": "white", "capsize": 4}
        ax.errorbar(last + 1, row.after_hz, FRACTILE * row.sd_hz, label="expected after the cut", **style)
    if np.isfinite(row.goal_hz):
        ax.axhline(row.goal_hz, color=INK, lw=1.0, ls="-.", label="goal")
    ax.set_title(NAMES[number], fontsize=8.5, color=INK)
    ax.set_xlim(int(k.iloc[0]) - 0.5, last + 1.5)
    ax.set_xticks([*k, last + 1], [*(str(n) for n in k), "next"])
    ax.set_xlabel("stage", fontsize=7)
    ax.set_ylabel("Hz", fontsize=7)
    ax.tick_params(labelsize=7)
    ax.grid(alpha=0.3)
    return ax


def trim_page(result: JobTrim) -> Figure:
    """Lay out the page.

    Parameters
    ----------
    result : JobTrim

    Returns
    -------
    matplotlib.figure.Figure
        Exactly A4, sideways; save it without a tight bounding box.
    """
    p, job = result.proposal, result.job
    figure = Figure(figsize=tuple(mm / 25.4 for mm in A4_MM))
    figure.text(0.04, 0.955, f"Trimming by tap: {job.name}", fontsize=14, weight="bold", color=INK)
    notes = "Invented data, no real instrument. " if job.invented else ""
    stage = f"Stage {len(result.stages)}, {1e3 * result.height:.1f} mm under the bridge."
    figure.text(0.96, 0.957, notes + stage, fontsize=8, ha="right", color=INK)
    head = f"{p.text[0].upper()}{p.text[1:]}."
    for k, line in enumerate(textwrap.wrap(head, 118)):
        figure.text(0.04, 0.922 - 0.024 * k, line, fontsize=11, weight="bold", color=INK)
    if p.place:
        figure.text(0.04, 0.897, f"{p.place.name}: {p.place.words}", fontsize=8, color=INK)
    draw_profile(result, figure.add_axes((0.085, 0.600, 0.885, 0.225)))
    for k, number in enumerate(MODES):
        ax = draw_mode_stages(result, number, figure.add_axes((0.06 + 0.318 * k, 0.315, 0.265, 0.175)))
        if k == 0:
            handles = dict(zip(*ax.get_legend_handles_labels()[::-1], strict=True))
        else:
            handles |= dict(zip(*ax.get_legend_handles_labels()[::-1], strict=True))
    figure.legend(handles.values(), handles.keys(), loc="upper center", bbox_to_anchor=(0.5, 0.552), ncols=7,
                  fontsize=7, frameon=False)  # fmt: skip
    _expected(figure, p, 0.04, 0.243)
    _places(figure, p, 0.04, 0.140)
    y = 0.243
    for line in expectation_lines(result):
        for k, part in enumerate(textwrap.wrap(line.strip(), 104)):
            figure.text(0.415 + 0.008 * (k > 0), y, part, fontsize=7, color=INK)
            y -= 0.0165
    for k, line in enumerate(CAUTIONS):
        figure.text(0.04, 0.036 - 0.0135 * k, line, fontsize=6.6, color=INK)
    return figure


def _expected(figure, p, left, top):
    columns = (
        ("mode", 0.0, lambda r: NAMES[r.number]),
        ("now Hz", 0.085, lambda r: f"{r.now_hz:.1f} ± {FRACTILE * r.now_sd_hz:.1f}"),
        ("after Hz", 0.160, lambda r: f"{r.after_hz:.1f} ± {FRACTILE * r.sd_hz:.1f}" if p.depth else "–"),
        ("goal Hz", 0.235, lambda r: f"{r.goal_hz:.1f}" if np.isfinite(r.goal_hz) else ""),
        ("lowest bar Hz", 0.280, lambda r: f"{r.least_hz:.1f} ± {FRACTILE * r.least_sd_hz:.1f}"),
    )
    _table(figure, f"Expect; {BAND}", columns, p.expected.itertuples(), left, top)


def _places(figure, p, left, top):
    columns = (
        ("place", 0.0, lambda r: r.place),
        ("room mm", 0.085, lambda r: f"{r.room_mm:.1f}"),
        *((f"mode {n} Hz", 0.135 + 0.055 * k, lambda r, n=n: f"{getattr(r, f'f{n}_hz'):+.2f}")
          for k, n in enumerate(MODES)),
        ("stiffness %", 0.300, lambda r: f"{r.stiffness_percent:+.2f}"),
    )  # fmt: skip
    _table(figure, "What 0.1 mm does at each place", columns, p.options.itertuples(), left, top)


def _table(figure, head, columns, rows, left, top, pitch=0.0145):
    figure.text(left, top, head, fontsize=8, weight="bold", color=INK)
    for name, x, _ in columns:
        figure.text(left + x, top - pitch, name, fontsize=6.8, style="italic", color=INK)
    for k, row in enumerate(rows):
        for _, x, show in columns:
            figure.text(left + x, top - pitch * (k + 2), show(row), fontsize=6.8, color=INK)
