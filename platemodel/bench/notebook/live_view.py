"""The picture of the live panel: drawn once, then only what moves is drawn again."""

import io
from collections.abc import Mapping

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from platemodel.bench.kit.colours import BAR, FAINT, INK
from platemodel.bench.kit.plots import draw_top
from platemodel.instrument.bar import Bar
from platemodel.study.choosing.live_top import LiveAnswer, LiveTop
from platemodel.study.choosing.targets import Target
from platemodel.study.top.figures import DIGITS, FIGURES, FLEX_FIGURES

MODES = (1, 2, 5)
NAMES = {1: "twist", 2: "cross", 5: "ring"}
SIZE = (6.9, 5.4)  # inches; shrunk to what the sliders leave of the page
DPI = 100
RIGHT = "text-align:right; padding-left:0.5em"
QUIET = "opacity:0.7"  # on light pages and on dark ones
OLD_WORDS = "Old bar: as it was, on the top as measured, whatever the sliders say."
SHORT = {
    "foot_n_per_mm": "stiffness under the foot",
    "sink_mm": "sinking under the foot",
    "strip_n_m2": "bar with strip of plate",
    "flex_along_mm": "sag along, 100\u00a0g",
    "flex_across_mm": "sag across, 100\u00a0g",
    "flex_twist_mm": "sag in twist, 100\u00a0g",
    "flex_foot_mm": "free plate under the foot, 100\u00a0g",
}
UNIT_AFTER = ",\u00a0"  # a unit does not stand alone in the next line
DASHED = {"lw": 1.0, "ls": (0, (4, 2))}  # the old bar
# A slider moves by less than a bar on the bench; the sag in twist is thirty times the others.
CLOSE = DIGITS | {name: 4 for name in FLEX_FIGURES if name != "flex_twist_mm"}


class LiveView:
    """Three plates with their nodal lines, and the bar from the side.

    Parameters
    ----------
    top : LiveTop
    start : LiveAnswer
    target : Target, optional
        Drawn as a line on a scale of its figure.
    old : Bar, optional
        The bar that was on before, drawn dashed.
    """

    def __init__(self, top: LiveTop, start: LiveAnswer, target: Target | None = None, old: Bar | None = None):
        self.top, self.start, self.target, self.old = top, start, target, old
        self.figure = Figure(figsize=SIZE, dpi=DPI)
        self.canvas = FigureCanvasAgg(self.figure)
        self._still()
        self._moving()
        self.canvas.draw()
        self._ground = self.canvas.copy_from_bbox(self.figure.bbox)
        self.update(start)

    def _still(self):
        plate = self.top.effects.figures.top
        self.plates = {}
        for i, number in enumerate(MODES):
            ax = self.figure.add_axes((0.02 + 0.33 * i, 0.42, 0.30, 0.53))
            draw_top(plate, ax, bridge=True)
            ax.set_axis_off()
            ax.set_title(f"mode {number}, {NAMES[number]}", fontsize=9)
            if self.old is not None:
                ax.plot(*_rim(self.old).T, color=FAINT, **DASHED)
            self.plates[number] = ax
        self.side = self.figure.add_axes((0.06, 0.24, 0.92, 0.13))
        bar, words = self.start.bar, "dotted: at the start"
        shown = [bar]
        if self.old is not None:
            self.side.plot(*_outline(self.old), color=FAINT, **DASHED)
            shown, words = [bar, self.old], f"{words}; dashed: the old bar"
        self.side.plot(*_outline(bar), ":", color=INK, lw=1.0)
        ends = [end for one in shown for end in (one.x_start, one.x_end)]
        self.side.set_xlim(1e3 * min(ends) - 25, 1e3 * max(ends) + 25)
        self.side.set_ylim(0, max(1.6e3 * bar.heights.max(), *(1.1e3 * b.heights.max() for b in shown)))
        self.side.set_title(f"bar from the side, mm ({words})", fontsize=8, loc="left")
        self.side.tick_params(labelsize=7)
        self.scale = self._scale() if self.target else None

    def _scale(self):
        """Draw the scale of the target's figure, with the target as a line."""
        ax = self.figure.add_axes((0.06, 0.07, 0.92, 0.06))
        begun, asked = self.start.figures.get(self.target.figure, np.nan), self.target.value
        ax.set_xlim(0, 1.5 * np.nanmax([begun, asked]))
        ax.set_ylim(0, 1)
        ax.axvline(asked, color=INK, lw=1.6, ls="--")
        ax.set_yticks([])
        ax.tick_params(labelsize=7)
        return ax

    def _moving(self):
        # animated artists are left out of the picture that is drawn once
        self.nodes, self.bars = {}, {}
        for number, ax in self.plates.items():
            self.nodes[number] = ax.add_collection(
                LineCollection([], colors=INK, linewidths=2.0, capstyle="round", animated=True, zorder=2)
            )
            rim = LineCollection([], colors=BAR, linewidths=1.4, animated=True)
            self.bars[number] = ax.add_collection(rim)
            plan = Polygon(1e3 * self.top.effects.figures.top.outline.points[:, ::-1], transform=ax.transData)
            self.nodes[number].set_clip_path(plan)
        (self.profile,) = self.side.plot([], [], color=BAR, lw=2.0, animated=True)
        if self.scale:
            (self.level,) = self.scale.plot([], [], color=BAR, lw=7, solid_capstyle="butt", animated=True)
            # over the axes as a title would be, but drawn anew with every answer
            self.words = self.scale.text(
                0.0, 1.25, "", transform=self.scale.transAxes, fontsize=8, animated=True
            )

    def update(self, found: LiveAnswer) -> None:
        """Move what moves to another answer and draw it."""
        self.canvas.restore_region(self._ground)
        rim = _rim(found.bar)
        for number, ax in self.plates.items():
            lines = []
            if number in found.shapes:
                lines = 1e3 * self.top.plate.still_lines(found.shapes[number])[..., ::-1]
            self.nodes[number].set_segments(lines)
            self.bars[number].set_segments([rim])
            for artist in (self.nodes[number], self.bars[number]):
                ax.draw_artist(artist)
        self.profile.set_data(*_outline(found.bar))
        self.side.draw_artist(self.profile)
        if self.scale:
            value = found.figures.get(self.target.figure, np.nan)
            self.level.set_data([0, value], [0.5, 0.5])
            self.words.set_text(f"{self.target.name}: {met_or_short(self.target, value)}")
            for artist in (self.level, self.words):
                self.scale.draw_artist(artist)

    def png(self) -> bytes:
        """Return the picture as it stands."""
        from PIL import Image

        out = io.BytesIO()
        picture = Image.fromarray(np.asarray(self.canvas.buffer_rgba())).convert("RGB")
        picture.save(out, "png", compress_level=1)
        return out.getvalue()


def _outline(bar: Bar):
    x = np.concatenate([bar.stations[:1], bar.stations, bar.stations[-1:]])
    return 1e3 * x, 1e3 * np.concatenate([[0.0], bar.heights, [0.0]])


def _rim(bar: Bar):
    """Bar in plan, closed, mm: across, along."""
    ends, inner, outer = bar.flanks(np.array([bar.x_start, bar.x_end]))
    across, along = [*outer, *inner[::-1], outer[0]], [*ends, *ends[::-1], ends[0]]
    return 1e3 * np.stack([across, along], axis=1)


def met_or_short(target: Target, found: float) -> str:
    """Say whether a target is met, and by how much it is met or missed.

    Parameters
    ----------
    target : Target
    found : float
        In the figure's unit.
    """
    if not np.isfinite(found):
        return "not known, so nobody can say whether the target is met"
    off = found - target.value
    share = 100 * abs(off) / target.value
    size = f"{number(target.figure, abs(off))} {target.unit}".rstrip() + f" ({share:.1f} %)"
    if target.met(found):
        return f"target met, {size} {'more' if off >= 0 else 'less'} than asked"
    return f"short by {size}" if off < 0 else f"too much by {size}"


def readings(
    found: LiveAnswer, start: LiveAnswer, target: Target | None = None, old: Mapping[str, float] | None = None
) -> str:
    """Figures now, at the start, and the change, as a table in HTML; the target's row says how it stands.

    Parameters
    ----------
    found, start : LiveAnswer
    target : Target, optional
    old : mapping of str to float, optional
        Figures of the old bar: a quiet last column.
    """
    rows = []
    for name, value in found.figures.items():
        unit, what = FIGURES[name]
        before = start.figures[name]
        step = "" if abs(value - before) < 1e-9 else _step(name, before, value)
        step = step if np.isfinite(value - before) else ""
        cells = (number(name, value), number(name, before), step)
        numbers = "".join(f"<td style='{RIGHT}'>{c}</td>" for c in cells)
        if old is not None:
            numbers += f"<td style='{RIGHT}; {QUIET}'>{number(name, old.get(name, np.nan))}</td>"
        named = f"{SHORT.get(name, what)}{UNIT_AFTER * bool(unit)}{unit}"
        rows.append(f"<tr><td style='white-space:normal'>{named}</td>{numbers}</tr>")
    heads = ("", "now", "start", "change", *(["old bar"] if old is not None else []))
    head = "".join(f"<td style='{RIGHT}'><i>{h}</i></td>" for h in heads)
    style = "white-space:nowrap; line-height:1.3; font-size:12px; width:100%"
    told = ""
    if target is not None:
        now = met_or_short(target, found.figures.get(target.figure, np.nan))
        told = f"<p style='line-height:1.3'>{SHORT.get(target.figure, target.name)}: {now}</p>"
    if old is not None:
        told = f"<p style='line-height:1.3; {QUIET}'>{OLD_WORDS}</p>{told}"
    return f"<table style='{style}'><tr>{head}</tr>{''.join(rows)}</table>{told}"


def picture_words(found: LiveAnswer, old: Bar | None = None) -> str:
    """Say what the picture shows, for those who cannot see it; the old bar where it is drawn."""
    tones = (f"mode {n} at {number(f'f{n}_hz', found.figures[f'f{n}_hz'])} Hz" for n in MODES)
    return (
        f"Three tops with their still lines and the bar in plan: {', '.join(tones)}. Under them the bar from "
        f"the side, {1e3 * found.bar.heights.max():.1f} mm high and {1e3 * found.bar.length:.0f} mm long, "
        "dotted as it was at the start"
        + (f", and dashed the old bar, {1e3 * old.heights.max():.1f} mm high." if old is not None else ".")
    )


def _step(name, before, value):
    """Change between two figures as they are printed, so that it adds up."""
    digits = CLOSE.get(name, 1)
    return f"{round(value, digits) - round(before, digits):+.{digits}f}"


def number(name: str, value: float) -> str:
    """Write a figure with its digits; a dash where there is none."""
    return f"{value:.{CLOSE.get(name, 1)}f}" if np.isfinite(value) else "–"
