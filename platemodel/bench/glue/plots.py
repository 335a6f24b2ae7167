"""Pictures for fitting and gluing a bar: clamps on the top, pressure, closing forces, glue window.

Every function draws on the Axes it is given and returns it; numbers stand beside what is drawn, so that
nothing depends on colour alone.
"""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from platemodel.bench.glue.result import time_text
from platemodel.bench.kit.colours import AMBER, BLUE, INK
from platemodel.bench.kit.plots import draw_top
from platemodel.bench.kit.typeset import TEXT, label_axes
from platemodel.instrument.top import Top
from platemodel.study.gluing.clamps import EVEN, ClampPlan
from platemodel.study.gluing.closing import Closing
from platemodel.study.gluing.glue_window import LONGEST, GlueWindow
from platemodel.study.gluing.hand_forces import HandForces

PRESS, STAND = BLUE, AMBER
ALONG = "along the bar, mm from its lower end"


def draw_clamps(plan: ClampPlan, top: Top, ax: Axes, force: np.ndarray | None = None) -> Axes:
    """Clamps on the bar and blocks outside, in plan, numbered in the order in which they are set.

    Parameters
    ----------
    force : ndarray, optional
        (n,) forces to write, N; default the plan's.
    """
    force = plan.force if force is None else force
    draw_top(top, ax, plan.bar)
    turn = np.argsort(plan.order) + 1
    for block in plan.blocks:
        corner = 1e3 * (block.y - block.across / 2), 1e3 * (block.x - block.along / 2)
        ax.add_patch(
            Rectangle(corner, 1e3 * block.across, 1e3 * block.along, fc="none", ec=STAND, lw=1.0, ls="--",
                      zorder=5)
        )  # fmt: skip
    x, y = 1e3 * plan.x, 1e3 * plan.bar.at(plan.x)
    for place, across, number, push in zip(x, y, turn, force, strict=True):
        ax.plot(across, place, "o", ms=9, mfc="white", mec=INK, mew=1.2, zorder=7)
        ax.text(across, place, str(number), ha="center", va="center", fontsize=TEXT, color=INK, zorder=8)
        ax.annotate(
            f"{push:.0f} N, at {place:.0f}",
            (across, place),
            (0.035 * 1e3 * top.outline.body_length, place),
            va="center",
            fontsize=TEXT,
            color=INK,
            zorder=8,
            arrowprops={"arrowstyle": "-", "lw": 0.4, "color": INK, "shrinkA": 0, "shrinkB": 5},
            bbox={"fc": "white", "ec": "none", "pad": 0.6, "alpha": 0.8},
        )
    across = 1.1e3 * max(abs(foot.bounds[i]) for foot in top.bridge.feet() for i in (1, 3))
    ax.plot([-across, across], [1e3 * top.bridge.x] * 2, color=INK, lw=0.7, ls=":", zorder=2)
    ax.set_axis_off()
    return ax


def draw_pressure(plan: ClampPlan, ax: Axes, hand: HandForces | None = None) -> Axes:
    """Pressure along the glue line, with each clamp's place and force.

    Parameters
    ----------
    hand : HandForces, optional
        Show the forces as a hand sets them; default the plan's.
    """
    at, p, force = 1e3 * plan.seated.at, 1e-6 * plan.pressure, plan.force
    if hand is not None:
        at, p, force = 1e3 * hand.at, 1e-6 * hand.pressure, hand.force
    even = max(p.min(), 0.0) / p.max()
    ax.fill_between(at, 0, p, fc=PRESS, ec=PRESS, alpha=0.25, lw=0)
    ax.plot(at, p, color=PRESS, lw=1.6)
    ax.axhline(p.max() * EVEN, color=INK, lw=0.6, ls=":")
    words = f"{EVEN:g} of the greatest "
    ax.text(at[-1], p.max() * EVEN, words, fontsize=TEXT, va="top", ha="right", color=INK)
    top = 1.5 * p.max()
    for s, f in zip(1e3 * plan.s, force, strict=True):
        ax.annotate(
            f"{f:.0f}", (s, 1.02 * p.max()), (s, 1.3 * p.max()), ha="center", fontsize=TEXT, color=INK,
            arrowprops={"arrowstyle": "-|>", "lw": 0.9, "color": INK},
        )  # fmt: skip
    ax.set_xlim(0, 1e3 * plan.bar.length)
    ax.set_ylim(0, top)
    title = f"clamps in N; least over greatest pressure {even:.2f}"
    return label_axes(ax, ALONG, "glue line, MPa", title, loc="left")


def draw_closing(closing: Closing, ax: Axes) -> Axes:
    """Gaps as read (above) and the forces that close them, with the push of the plate (below)."""
    s, gap, force = 1e3 * closing.beam.s, 1e3 * closing.gaps.gap, closing.force
    ax.plot(s, gap, "o-", color=STAND, ms=3.5, lw=1.2, label="gap, mm")
    ax.set_ylim(0, 2.1 * max(gap.max(), 0.05))
    ax.set_xlim(-0.02 * s[-1], 1.02 * 1e3 * closing.beam.bar.length)
    other = ax.twinx()
    most = max(np.abs(force).max(), 1.0)
    width = 0.012 * s[-1]
    for place, f in zip(s, force, strict=True):
        if f == 0.0:
            continue
        other.bar(
            place, f, width, fc=PRESS if f > 0 else "white", ec=INK, lw=0.7, hatch="" if f > 0 else "///"
        )
        if abs(f) > 0.06 * most:
            words, clear = {"ha": "center", "fontsize": TEXT, "color": INK}, 2.0 if f > 0 else -2.0
            words |= {"va": "bottom" if f > 0 else "top", "textcoords": "offset points"}
            other.annotate(f"{f:+.0f}", (place, f), (0, clear), **words)
    other.axhline(0.0, color=INK, lw=0.6)
    other.set_ylim(-1.35 * most, 1.35 * most)
    label_axes(other, y="N: + clamp, − plate")
    title = (
        f"Closing on a plate that does not give: {closing.total:.0f} N together, "
        f"up to {1e-6 * closing.peak_stress:.0f} MPa in the bar"
    )
    return label_axes(ax, ALONG, "gap, mm", title, loc="left")


def draw_window(window: GlueWindow, ax: Axes) -> Axes:
    """Bands of the time the glue stays liquid, by temperature of the wood; logarithmic seconds."""
    for k, row in enumerate(window.table.itertuples()):
        for shift, name, face, hatch in ((0.2, "open", STAND, ""), (-0.2, "closed", "white", "....")):
            low, mid, high = (min(getattr(row, f"{name}_{n}_s"), LONGEST) for n in ("low", "mid", "high"))
            ax.barh(-k + shift, high - low, 0.34, left=low, fc=face, ec=INK, hatch=hatch, lw=0.7)
            ax.plot([mid, mid], [-k + shift - 0.17, -k + shift + 0.17], color=INK, lw=2.0)
            ax.text(high * 1.12, -k + shift, time_text(mid), va="center", fontsize=TEXT, color=INK)
    ax.set_yticks(-np.arange(len(window.table)), [f"wood {t:g} °C" for t in window.table["wood_c"]])
    ax.set_xscale("log")
    ax.set_xlim(1, 4 * LONGEST)
    ax.set_xticks([1, 10, 60, LONGEST], ["1 s", "10 s", "1 min", "10 min"])
    ax.minorticks_off()
    title = (
        f"Glue at {window.joint.glue_c:g} °C stays liquid\nfilled: open on the bar; dotted: closed after "
        f"{window.lay_s:.0f} s"
    )
    return label_axes(ax, title=title, loc="left", title_at=-0.24)
