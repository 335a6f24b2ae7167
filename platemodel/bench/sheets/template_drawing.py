"""The side template of a bar at true size: paper folded round the blank, one panel for each flank."""

from collections.abc import Iterable

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Polygon, Rectangle

from platemodel.bench.kit.colours import ALARM, BAR, BAR_TINT, FAINT, INK
from platemodel.bench.kit.typeset import TEXT
from platemodel.instrument.cut_list import CutList
from platemodel.instrument.mark_checks import crossings
from platemodel.instrument.marks import OLD_BAR, Mark
from platemodel.instrument.side_view import SAW_ROOM, SideView

OVER = 2.5  # mm of paper beyond the ends of the bar
ROW = 3.8  # mm, of the figures above the stations
ALIKE = 0.1e-3  # m: flanks that differ by less are called alike
ROWS = ("from lower end", "bevel °", "final height", "roughing height")
HEAD = ROW * len(ROWS) + 18.0  # with a band for registration crosses
SECTIONS = 12.0  # mm between the lower panel and the sections below it


class TemplateFrame:
    """Places on the template in mm: the fold at the bass flank is at height 0."""

    def __init__(self, view: SideView):
        self.width = 1e3 * view.blank.width
        self.height = 1e3 * view.blank.height
        self.length = 1e3 * float(view.middle[-1, 0])
        self.section = 1e3 * float(view.bar.heights.max()) + 3.0
        self.top = self.height + HEAD
        self.bottom = -self.width - self.height - SECTIONS - self.section - 16.0

    def bass(self, points: np.ndarray) -> np.ndarray:
        """Points (n, 2) of the side view, m, on the upper panel, mm."""
        return 1e3 * points

    def treble(self, points: np.ndarray) -> np.ndarray:
        """Points (n, 2) of the side view, m, on the lower panel, which is folded up behind, mm."""
        p = 1e3 * points
        return np.c_[p[:, 0], -self.width - p[:, 1]]

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Box of the template, mm."""
        return -OVER, self.bottom, self.length + OVER, self.top


def draw_template(ax: Axes, view: SideView, cuts: CutList, marks: Iterable[Mark] = ()) -> Axes:
    """Draw the template on Axes in mm, with the marks of the top that the seat meets; returns them."""
    frame = TemplateFrame(view)
    _stations(ax, view, cuts, frame)
    for name, place in (("bass", frame.bass), ("treble", frame.treble)):
        _panel(ax, view, name, place)
    for v, gid in ((0.0, "fold-bass"), (-frame.width, "fold-treble")):
        ax.plot([-OVER, frame.length + OVER], [v, v], color=INK, lw=0.8, ls=(0, (10, 3)), zorder=6, gid=gid)
    _words(ax, view, frame)
    _sections(ax, view, cuts, frame)
    _marks(ax, view, frame, marks)
    return ax


def _marks(ax, view, frame, marks):
    """Stretches of the seat over marks: hatched on both flanks, named above."""
    for mark in marks:
        meet = crossings(view.bar, mark)
        if meet is None or mark.kind == OLD_BAR:
            continue
        low, high = (1e3 * v * frame.length / (1e3 * view.bar.length) for v in meet)
        low, high = min(low, high - 1.0), max(high, low + 1.0)
        for base in (0.0, -frame.width - frame.height):
            ax.add_artist(
                Rectangle(
                    (low, base), high - low, frame.height, fc="none", ec=ALARM, lw=0.5, hatch="..", zorder=7
                )
            )
        v = frame.height + 11.0 + ROW * len(ROWS)
        ax.plot([low, high], [v - 0.6, v - 0.6], color=ALARM, lw=1.0)
        middle = 0.5 * (low + high)
        ax.text(middle, v, mark.kind, fontsize=TEXT, ha="center", va="bottom", color=ALARM, clip_on=True)


def _panel(ax, view, name, place):
    seat = place(getattr(view, name))
    # Square to the sides the free edge is the same on both flanks.
    final, rough = place(view.final_edge), place(view.rough_edge)
    saw = place(view.saw_lines[0 if name == "bass" else 1])
    ring = np.r_[seat, final[::-1]]
    ax.add_artist(Polygon(ring, closed=True, fc=BAR_TINT, ec="none", zorder=1))
    ax.plot(*saw.T, color=INK, lw=0.6, ls=(0, (4, 2)), zorder=5, gid=f"saw-{name}")
    ax.plot(*seat.T, color=INK, lw=1.2, zorder=5, gid=f"seat-{name}")
    ax.plot(*rough.T, color=BAR, lw=0.8, ls=(0, (8, 2, 2, 2)), zorder=5, gid=f"rough-{name}")
    ax.plot(*final.T, color=BAR, lw=1.0, zorder=5, gid=f"final-{name}")
    for k in (0, -1):
        end = np.array([saw[k], rough[k]])
        ax.plot(*end.T, color=INK, lw=1.2, zorder=5, gid=f"end-{name}-{'lower' if k == 0 else 'upper'}")


def _stations(ax, view, cuts, frame):
    heads = (
        [f"{1e3 * s:.0f}" for s in cuts.s],
        [f"{v:.1f}" for v in np.degrees(view.seat.bevel)],
        [f"{1e3 * h:.1f}" for h in cuts.final],
        [f"{1e3 * h:.1f}" for h in cuts.rough],
    )
    last = len(cuts.s) - 1
    for k, (u, place) in enumerate(zip(1e3 * view.stations[:, 0, 0], cuts.places, strict=True)):
        bridge = place == "bridge line"
        ax.plot(
            [u, u], [-frame.width - frame.height, frame.height + 1.5],
            color=INK if bridge else FAINT, lw=0.9 if bridge else 0.35, zorder=2, gid=f"station-{k}",
        )  # fmt: skip
        ha = "left" if k == 0 else "right" if k == last else "center"
        shift = {"left": -1.5, "right": 1.5, "center": 0.0}[ha]
        crowded = 0 < k < last and min(np.diff(1e3 * view.stations[k - 1 : k + 2, 0, 0])) < 9.0
        for r, texts in enumerate(heads):
            v = frame.height + 2.2 + ROW * (len(heads) - 1 - r)
            if crowded and not bridge:
                continue
            ax.text(
                u + shift, v, texts[k], fontsize=TEXT, ha=ha, va="bottom", clip_on=True, color=INK,
                weight="bold" if bridge or r == 2 else "normal",
            )  # fmt: skip
        if place:
            v = frame.height + 2.4 + ROW * len(heads)
            ax.text(u + shift, v, place, fontsize=TEXT, ha=ha, va="bottom", style="italic", clip_on=True)


def _words(ax, view, frame):
    style = {"fontsize": TEXT, "color": INK, "clip_on": True, "zorder": 8, "va": "center", "ha": "center"}
    ground = {"facecolor": "white", "edgecolor": "none", "pad": 0.8, "alpha": 0.9}
    alike = view.seat.flank_difference < ALIKE
    middle = 1e3 * (view.middle + view.final_edge) / 2
    count = max(2, round(frame.length / 110.0))
    for share in (np.arange(count) + 0.5) / count:
        at = middle[round(share * (len(middle) - 1))]
        ax.text(*at, "BASS flank", weight="bold", bbox=ground, **style)
        ax.text(
            at[0], -frame.width - at[1], "TREBLE flank", weight="bold", rotation=180, bbox=ground, **style
        )
        words = "straight edge of the blank: fold on both dashed lines"
        ax.text(at[0], -frame.width / 2, words, bbox=ground, **style)
    note = "At each line, from above: " + ", ".join(ROWS) + ".  Heights from the plate, mm."
    if alike:
        note += " Both flanks alike within 0.1 mm."
    ax.text(-1.0, frame.height + 6.8 + ROW * len(ROWS), note, fontsize=TEXT, color=INK, clip_on=True)


def _sections(ax, view, cuts, frame):
    floor = frame.bottom + 14.0
    names = {"lower end": ("left", 3.0), "bridge line": ("center", 0.0), "upper end": ("right", -3.0)}
    for k, place in enumerate(cuts.places):
        if place not in names:
            continue
        side, shift = names[place]
        w, h = 1e3 * cuts.width[k], 1e3 * cuts.final[k]
        lift_b, lift_t = (1e3 * float(v[k] - cuts.final[k]) for v in (cuts.final_bass, cuts.final_treble))
        u = 1e3 * float(view.stations[k, 0, 0])
        u = {"left": u + shift + w / 2, "center": u, "right": u + shift - w / 2}[side]
        ring = [
            (u - w / 2, floor),
            (u + w / 2, floor),
            (u + w / 2, floor + h + lift_b),
            (u - w / 2, floor + h + lift_t),
        ]
        ax.add_artist(Polygon(ring, closed=True, fc=BAR_TINT, ec=INK, lw=0.9, gid=f"section-{k}"))
        text = f"{place}: {w:.1f} x {h:.1f}\nbevel {np.degrees(view.seat.bevel[k]):.1f}°"
        at = {"left": u - w / 2, "center": u, "right": u + w / 2}[side]
        ax.text(at, floor - 1.5, text, fontsize=TEXT, ha=side, va="top", color=INK, clip_on=True)
    u = max(40.0, 0.13 * frame.length)
    for k, (name, style) in enumerate(
        (
            ("seat, fitted with chalk", {"color": INK, "lw": 1.2}),
            (f"saw here, {1e3 * SAW_ROOM:.1f} mm outside", {"color": INK, "lw": 0.6, "ls": (0, (4, 2))}),
            ("rough to here, then glue", {"color": BAR, "lw": 0.8, "ls": (0, (8, 2, 2, 2))}),
            ("final free edge, cut on the plate", {"color": BAR, "lw": 1.0}),
        )
    ):
        v = floor + 14.0 - 3.8 * k  # above the words of the sections
        ax.plot([u, u + 12.0], [v, v], clip_on=True, **style)
        ax.text(u + 14.0, v, name, fontsize=TEXT, va="center", color=INK, clip_on=True)
    fill = view.bar.section_fill
    words = ["Sections 1:1, seen from the lower end, bass side right."]
    rounded = f"Free edge rounded: {100 * fill:.0f} % of the square section."
    words.append("Section square, free edge not rounded." if view.bar.is_square else rounded)
    if view.seat.spring:
        words.append(f"Spring: {1e3 * view.seat.spring:.1f} mm gap at each end, in the seat curve.")
    for k, line in enumerate(words):
        ax.text(0.62 * frame.length, floor + 9.0 - 3.8 * k, line, fontsize=TEXT, color=INK, clip_on=True)
