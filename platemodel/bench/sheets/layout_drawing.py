"""The layout of a bar at true size, drawn on Axes in mm: the top seen from inside."""

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Circle

from platemodel.bench.kit.colours import BAR, BAR_TINT, INK
from platemodel.bench.kit.paper import from_inside
from platemodel.bench.kit.typeset import LINE, TEXT, broken, width_of
from platemodel.bench.sheets.conflicts import beside_hole, draw_conflicts, words_of
from platemodel.bench.sheets.marks import (
    LABEL_WIDTH,
    Label,
    column_height,
    dimension,
    figure_at,
    label_column,
    loop,
)
from platemodel.instrument.bar import Bar
from platemodel.instrument.hole_clearance import CLEARANCE, SLACK
from platemodel.instrument.layout_checks import Finding
from platemodel.instrument.layout_distances import Distance, edge_on_marks
from platemodel.instrument.strings import Post
from platemodel.instrument.top import Top

INSIDE = "Seen from INSIDE: bass side on the RIGHT."
PAD = 3.0  # mm round the outline
WELL_IN = 12.0  # mm from the edge of a sheet, for what a label of it speaks of
_GROUND = {"facecolor": "white", "edgecolor": "none", "pad": 0.3}


@dataclass(frozen=True)
class Strip:
    """What the sheets of a strip along the bar show of the top.

    Attributes
    ----------
    right : float
        Its right edge, mm on the drawing.
    rows : tuple of (float, float)
        Lower and upper edge of each sheet, mm on the drawing.
    """

    right: float
    rows: tuple[tuple[float, float], ...]


def drawing_box(top: Top) -> tuple[float, float, float, float]:
    """Box of the drawing on the sheet, mm."""
    p = from_inside(top.outline.points)
    low, high = p.min(axis=0) - PAD, p.max(axis=0) + PAD
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def draw_layout(
    ax: Axes,
    top: Top,
    bar: Bar,
    distances: tuple[Distance, ...],
    findings: tuple[Finding, ...],
    post: Post | None = None,
    pitch: float = 20e-3,
    strip: Strip | None = None,
    labelled: bool = True,
) -> Axes:
    """Draw everything a maker marks, at true size.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
        In mm, see :func:`platemodel.bench.kit.paper.window`.
    distances : tuple of Distance
        From :func:`platemodel.instrument.layout_distances.layout_distances`.
    findings : tuple of Finding
        What to mark as a conflict.
    pitch : float
        Distance of the marks along the bar from its lower end, m.
    strip : Strip, optional
        What the sheets show, if they do not show the whole top.
    labelled : bool
        With the labels in the bays beside the waist; see `side_labels`.
    """
    by_key = {d.key: d for d in distances}
    _plate(ax, top)
    _lines(ax, top, by_key, strip)
    _bar(ax, top, bar, pitch, [from_inside(by_key[f"seventh_{k}"].q) for k in ("upper", "lower")])
    draw_conflicts(ax, top, bar, findings)
    _across(ax, top, bar, by_key)
    _ends(ax, bar, by_key, findings)
    _beside_bar(ax, by_key)
    if post is not None and "post_axis" in by_key:
        centre = from_inside(post.place(top.bridge))
        ax.add_artist(Circle(centre, 500 * post.diameter, fc="none", ec=INK, lw=0.9, zorder=7, gid="post"))
        _cross(ax, centre, 1.5)
    if labelled:
        _columns(ax, top, by_key, side_labels(top, bar, distances, findings, post), strip)
    return ax


def _plate(ax, top):
    loop(ax, from_inside(top.outline.points), fc="none", ec=INK, lw=1.0, zorder=3, gid="outline")
    for hole in top.sound_holes:
        loop(ax, from_inside(hole.points), fc="#f0f0f0", ec=INK, lw=0.9, zorder=3, gid=f"hole-{hole.side}")
        for eye in (hole.upper_eye, hole.lower_eye):
            centre = from_inside((eye.x, eye.y))
            ax.add_artist(
                Circle(centre, 500 * eye.diameter, fc="none", ec=INK, lw=0.5, ls=(0, (4, 2)), zorder=4)
            )
            _cross(ax, centre, 1.5)
    for name, foot in zip(("bass", "treble"), top.bridge.feet(), strict=True):
        corners = np.array(foot.exterior.coords)[:-1]
        loop(ax, from_inside(corners), fc="none", ec=INK, lw=0.8, zorder=7, gid=f"foot-{name}")
    for centre in (top.bridge.bass_foot, top.bridge.treble_foot):
        _cross(ax, from_inside(centre), 1.5)


def _cross(ax, centre, arm):
    u, v = centre
    ax.plot([u - arm, u + arm], [v, v], color=INK, lw=0.4, zorder=7)
    ax.plot([u, u], [v - arm, v + arm], color=INK, lw=0.4, zorder=7)


def _lines(ax, top, by_key, strip):
    length = 1e3 * top.outline.body_length
    ax.plot([0, 0], [-PAD, length + PAD], color=INK, lw=0.6, ls=(0, (12, 2, 2, 2)), zorder=2, gid="axis")
    ax.text(
        -1.0, 0.02 * length, "axis: line of the strings; mark the joint too",
        fontsize=TEXT, rotation=90, ha="right", va="bottom", color=INK, clip_on=True,
    )  # fmt: skip
    names = {"upper": "widest line, upper bout", "waist": "waist", "lower": "widest line, lower bout"}
    for key, name in names.items():
        bass, treble = by_key[f"half_{key}_bass"], by_key[f"half_{key}_treble"]
        (left, v), (right, _) = from_inside(treble.q), from_inside(bass.q)
        ax.plot([left, right], [v, v], color=INK, lw=0.5, ls=(0, (6, 2)), zorder=2, gid=f"line-{key}")
        if key == "waist":
            continue
        if strip is None:
            figure_at(ax, left + 3, v + 2.4, _mm(treble.value), "axis to edge, treble side")
        else:
            right = min(right, strip.right)
        ax.text(right - 3, v + 4.6, name, fontsize=TEXT, va="bottom", ha="right", color=INK, clip_on=True)
        figure_at(ax, right - 3, v + 2.4, _mm(bass.value), "axis to edge, bass side", ha="right")
    x = 1e3 * top.bridge.x
    bass, treble = (float(h[0]) * 1e3 for h in top.outline.half_width(top.bridge.x))
    ax.plot([-treble - 2, bass + 2], [x, x], color=INK, lw=0.8, ls=(0, (6, 2)), zorder=2, gid="bridge-line")


def _bar(ax, top, bar, pitch, marks):
    loop(ax, from_inside(bar.ring), fc=BAR_TINT, ec=BAR, lw=1.3, zorder=5, gid="bar")
    (u0, v0), (u1, v1) = from_inside([(bar.x_start, bar.y_start), (bar.x_end, bar.y_end)])
    ax.plot([u0, u1], [v0, v1], color=BAR, lw=0.5, ls=(0, (8, 2, 2, 2)), zorder=5, gid="bar-axis")
    along = np.array([1.0, bar.slope]) / np.hypot(1, bar.slope)
    across = np.array([-along[1], along[0]])
    start = np.array([bar.x_start, bar.y_start])
    for k in range(1, int(bar.length / pitch) + 1):
        p = start + k * pitch * along
        if abs(p[0] - top.bridge.x) < top.bridge.foot_along / 2 + 2e-3 or bar.length - k * pitch < 3e-3:
            continue
        a, b = from_inside([p - bar.width / 2 * across, p + bar.width / 2 * across])
        ax.plot([a[0], b[0]], [a[1], b[1]], color=BAR, lw=0.5, zorder=5)
        u, v = max(a, b, key=lambda e: -e[0])
        text = f"{1e3 * k * pitch:.0f}"
        reach = width_of(text) + 2.0
        if any(abs(v - b + 1.3) < LINE[TEXT] and 0 < u - a < reach for a, b in marks):
            continue  # a one-seventh mark stands there
        ax.text(
            u - 1.0, v, text, fontsize=TEXT, ha="right", va="center", color=INK,
            bbox=_GROUND, zorder=6, clip_on=True,
        )  # fmt: skip


def _across(ax, top, bar, by_key):
    """Distances from the axis at the bout lines and the bridge line, and the one-seventh marks."""
    edge = edge_on_marks(top, bar)
    for key in ("upper", "lower"):
        mark, inner, outer = (by_key[f"{n}_{key}"] for n in ("seventh", "inner", "outer"))
        u, v = from_inside(mark.q)
        ax.plot([u], [v - 1.3], "^", ms=5, mfc="white", mec=INK, mew=0.7, zorder=9, gid=f"seventh-{key}")
        meant = f"1/7 mark: the bar's {edge} edge lies on it" if edge else "1/7 mark (the bar lies elsewhere)"
        figure_at(
            ax,
            from_inside(outer.q)[0] + 2.0,
            v - 7.6,
            _mm(mark.value),
            meant.replace("middle edge", "middle"),
        )
        _from_axis(ax, inner, outer)
    _from_axis(ax, by_key["inner_bridge"], by_key["outer_bridge"], 500 * top.bridge.foot_along + 2.2)


def _from_axis(ax, inner, outer, lift=2.4):
    p, q = from_inside([inner.p, inner.q])
    dimension(ax, p, q, gid=inner.key)
    words = "axis to inner edge"
    if q[0] > width_of(words.partition("to ")[2]) + 8.0:  # between axis and bar, as on a cello
        middle = 0.5 * q[0]
        figure_at(ax, middle, p[1] + lift, _mm(inner.value), ha="center")
        for k, line in enumerate(broken(words, q[0] - 8.0)[::-1]):
            y = p[1] + lift + LINE[TEXT] * (k + 1)
            ax.text(middle, y, line, fontsize=TEXT, ha="center", va="center", color=INK, clip_on=True)
    else:
        figure_at(ax, -2.0, p[1] + lift, _mm(inner.value), words, ha="right")
    u, v = from_inside(outer.q)
    ax.plot([u], [v], "o", ms=2.2, mfc=INK, mec="white", mew=0.3, zorder=9)
    if outer.key != "outer_bridge":  # there it stands in the label column
        figure_at(ax, u + 2.0, v - 3.4, _mm(outer.value), "axis to outer edge")


def _ends(ax, bar, by_key, findings):
    for name, sign in (("lower", -1), ("upper", 1)):
        d = by_key.get(f"end_{name}")
        if d is None:
            continue
        p, q = from_inside([d.p, d.q])
        dimension(ax, p, q, gid=d.key)
        odd = words_of(findings, "end", f"{name} end")
        at = p + 0.35 * (q - p)  # nearer to the bar, away from the line of the edge
        figure_at(ax, at[0] + 2.0, at[1] + 2.1, _mm(d.value), "to the edge", alarm=bool(odd))
        body = f"to the end of the body{f' ({odd})' if odd else ''}"
        figure_at(ax, at[0] + 2.0, at[1] - 2.1, _mm(by_key[f"margin_{name}"].value), body, alarm=bool(odd))
        beside = p[0] + 500 * bar.width + 2.0, p[1] - sign * 3.6
        figure_at(ax, *beside, f"{1e3 * d.p[0]:.1f}", f"{name} end, from the lower edge")


BAYS = {
    "eye": "bar to upper eye",
    "stem": "bar to stem, closest",
    "foot_outer": "bar inside foot, outer edges",
    "foot_inner": "foot to bar, inner edges",
    "outer_bridge": "axis to outer edge, at the bridge line",
}


def _beside_bar(ax, by_key):
    """Lines of the distances whose figures stand in the bay of the bass side."""
    for key in BAYS:
        if key in by_key and key != "outer_bridge":
            dimension(ax, *from_inside([by_key[key].p, by_key[key].q]), gid=key)


def side_labels(
    top: Top,
    bar: Bar,
    distances: tuple[Distance, ...],
    findings: tuple[Finding, ...],
    post: Post | None = None,
) -> tuple[list[Label], list[Label]]:
    """Labels of the bays beside the waist, bass side and treble side; arguments as for `draw_layout`."""
    by_key, bass = {d.key: d for d in distances}, []
    for key, words in BAYS.items():
        if key not in by_key:
            continue
        d = by_key[key]
        p, q = from_inside([d.p, d.q])
        near = key not in ("eye", "stem") or d.value < CLEARANCE * top.outline.scale - SLACK
        kind = {"foot_outer": "foot", "eye": "hole", "stem": "hole"}.get(key, key)
        odd = words_of(findings, kind) if near else ""
        anchor = q if key == "outer_bridge" else (p + q) / 2
        bass.append(Label(tuple(anchor), _mm(d.value), f"{words}; {odd}" if odd else words, bool(odd)))
    for figure, words in beside_hole(top, bar):
        bass.append(Label(tuple(from_inside(by_key["eye"].p)), figure, words, True))
    if odd := words_of(findings, "plate"):
        bass.append(Label(tuple(from_inside((top.bridge.x, 0.0))), "off the plate", odd, True))
    waist = by_key["half_waist_bass"], by_key["half_waist_treble"]
    treble = [
        Label(
            tuple(from_inside(0.9 * waist[1].q + 0.1 * waist[1].p)),
            f"{_mm(waist[1].value)} | {_mm(waist[0].value)}",
            "waist: axis to edge, treble | bass",
        ),
        _bridge_label(top, by_key, 0.85 * waist[1].value),
    ]
    if "eye_spacing" in by_key:
        d = by_key["eye_spacing"]
        treble.append(Label(tuple(from_inside(d.q)), _mm(d.value), "between the upper eyes"))
    if post is not None and "post_axis" in by_key:
        treble.append(
            Label(
                tuple(from_inside(post.place(top.bridge))),
                f"{_mm(by_key['post_foot'].value)} | {_mm(by_key['post_axis'].value)}",
                "post: front to back of foot | axis to middle",
            )
        )
    return bass, treble


def _bridge_label(top, by_key, y):
    lines = f"{_mm(by_key['stop'].value)} | {_mm(by_key['bridge_lower'].value)}"
    return Label(tuple(from_inside((top.bridge.x, y))), lines, "bridge line from upper | lower edge")


def _columns(ax, top, by_key, labels, strip):
    """Labels in the two bays beside the waist, outside the plate."""
    bass, treble = labels
    if strip is not None:
        aside = _bridge_label(top, by_key, -0.85 * by_key["half_waist_bass"].value)
        _strip_column(ax, top, [*bass, aside], strip)
        return
    middle = 1e3 * by_key["half_waist_bass"].p[0]
    for group, side, sign in ((bass, 0, 1.0), (treble, 1, -1.0)):

        def edge(v, side=side, sign=sign):
            return sign * (1e3 * float(top.outline.half_width(1e-3 * v)[side][0]) + 3.5)

        label_column(ax, group, edge, middle, right=side == 0)


def _strip_column(ax, top, labels, strip):
    """Labels at the right of a strip, each on the sheet that shows its place: no leader leaves the paper."""
    heights = [label.anchor[1] for label in labels]
    whole = max(strip.rows, key=lambda r: min(min(v - r[0], r[1] - v) for v in heights))
    if all(whole[0] + WELL_IN < v < whole[1] - WELL_IN for v in heights):
        groups = {whole: labels}  # one sheet has room for all: two columns would stand in each other's way
    else:
        groups = {}
        for label in labels:
            row = max(strip.rows, key=lambda r, v=label.anchor[1]: min(v - r[0], r[1] - v))
            groups.setdefault(row, []).append(label)

    def edge(v):
        beyond = 1e3 * float(top.outline.half_width(1e-3 * v)[0][0]) + 3.5
        return min(beyond, strip.right - LABEL_WIDTH - 2.0)

    for (low, high), group in groups.items():
        tall = column_height(group)
        middle = float(np.mean([label.anchor[1] for label in group]))
        label_column(ax, group, edge, float(np.clip(middle, low + tall / 2 + 3, high - tall / 2 - 3)))


def _mm(value):
    return f"{1e3 * value:.1f}"
