"""Samples of wood in one picture: stiffness over density, with bands."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Polygon
from matplotlib.ticker import MaxNLocator

from platemodel.bench.kit.colours import BLUE, INK, MAUVE, SAND
from platemodel.bench.kit.typeset import TEXT, label_axes
from platemodel.study.wood.samples import SampleComparison
from platemodel.wood import Orthotropic, WoodEstimate
from platemodel.wood.estimate import HALF_WIDTH

MARKERS = {"blank": "s", "wedge": "^", "strip": "o"}
FILL, SPEED, RATIO = SAND, BLUE, MAUVE
_LETTER = 0.62  # width of a letter over the font size, a little more than the usual fonts have


def draw_samples(
    comparison: SampleComparison,
    ax: Axes,
    reference: Orthotropic | None = None,
    reference_label: str = "reference",
) -> Axes:
    """Stiffness along the grain over density, lines of equal sound speed and of equal radiation ratio.

    Parameters
    ----------
    reference : Orthotropic, optional
        Marked with a cross, the wood of the top for example.

    Notes
    -----
    The shadow of an ellipse on either axis is that figure's band (90 %). Names carry the rank. Kinds differ
    by marker, the two sets of lines by their dashes.
    """
    rings = {name: band_ellipse(e) for name, e in comparison.estimates.items()}
    points = list(rings.values())
    if reference is not None:
        points.append(np.array([[reference.density, 1e-9 * reference.E_L]]))
    low, high = np.concatenate(points).min(axis=0), np.concatenate(points).max(axis=0)
    margin = 0.08 * (high - low)
    ax.set_xlim(low[0] - margin[0], high[0] + margin[0])
    ax.set_ylim(low[1] - margin[1], high[1] + 1.5 * margin[1])
    lines, taken = _guide_lines(ax)
    spots, texts = [], []
    for rank, (name, estimate) in enumerate(comparison.estimates.items(), 1):
        kind = comparison.samples[name].kind
        ax.add_patch(Polygon(rings[name], closed=True, fc=FILL, ec=INK, alpha=0.35, lw=0.8, zorder=2))
        spots.append((estimate.wood.density, 1e-9 * estimate.wood.E_L))
        ax.plot(*spots[-1], MARKERS[kind], color=INK, ms=4, zorder=3)
        texts.append(f"{rank} {name}")
    if reference is not None:
        spots.append((reference.density, 1e-9 * reference.E_L))
        ax.plot(*spots[-1], "X", color=INK, mfc="white", ms=8, zorder=3)
        texts.append(reference_label)
    _place_names(ax, spots, texts, taken)
    kinds = dict.fromkeys(s.kind for s in comparison.samples.values())
    handles = [ax.plot([], [], MARKERS[k], color=INK, ms=4, ls="none", label=k)[0] for k in kinds]
    ax.legend(
        handles=[*handles, *lines], fontsize=TEXT, loc="upper center", bbox_to_anchor=(0.5, -0.12), ncol=5,
        frameon=False,
    )  # fmt: skip
    title = f"ranked: {comparison.purpose.name}"
    if comparison.moisture is not None:
        title += f"; at {100 * comparison.moisture:.1f} % moisture"
    if comparison.invented:
        title += "; INVENTED DATA"
    return label_axes(ax, "density, kg/m³", "stiffness along the grain E_L, GPa", title)


def band_ellipse(estimate: WoodEstimate) -> np.ndarray:
    """Ellipse round density and E_L whose shadows are their bands: kg/m3 and GPa, (n, 2)."""
    return estimate.ellipse("density", "E_L", HALF_WIDTH) * [1.0, 1e-9]


def _guide_lines(ax):
    """Lines of equal c = sqrt(E/density) and of equal R = c/density.

    Returns handles for the legend, and place and side of each label.
    """
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    x = np.linspace(x0, x1, 200)
    handles, labelled = [], []
    families = (
        (SPEED, (6, 3), lambda c: 1e-9 * x * c**2, lambda e, d: np.sqrt(1e9 * e / d), "c", "m/s"),
        (RATIO, (1, 2), lambda r: 1e-9 * r**2 * x**3, lambda e, d: np.sqrt(1e9 * e / d**3), "R", "m⁴/(kg s)"),
    )
    for colour, dashes, curve, value, letter, unit in families:
        corners = [value(e, d) for e in (y0, y1) for d in (x0, x1)]
        for level in MaxNLocator(8, steps=[1, 2, 5, 10]).tick_values(min(corners), max(corners)):
            y = curve(level)
            (line,) = ax.plot(x, y, color=colour, lw=0.8, dashes=dashes, zorder=1)
            inside = np.flatnonzero((y > y0) & (y < y1))
            if len(inside) < 20:
                continue
            # speeds are named where they leave on the right or above, ratios where they come in
            at = inside[-6] if letter == "c" else inside[5]
            labelled.append((x[at], y[at], -1 if letter == "c" else 1))
            ax.text(
                x[at], y[at], f"{letter} {level:g}", fontsize=TEXT, color=colour, va="center",
                ha="right" if letter == "c" else "left", clip_on=True, zorder=1.5,
                bbox={"fc": "white", "ec": "none", "pad": 0.6},
            )  # fmt: skip
        line.set_label(f"equal {'sound speed c' if letter == 'c' else 'radiation ratio R'}, {unit}")
        handles.append(line)
    return handles, labelled


def _place_names(ax, spots, texts, labelled):
    """Put each name near its spot, clear of names, spots and labels of lines; far ones get a thin leader."""
    scale = 72.0 / ax.figure.dpi
    at = ax.transData.transform(np.array(spots)) * scale  # points
    frame = ax.get_window_extent().get_points() * scale
    taken = [(x - 4, y - 4, x + 4, y + 4) for x, y in at]
    for *spot, side in labelled:
        x, y = ax.transData.transform(spot) * scale
        taken.append((min(x, x + 30 * side), y - 5, max(x, x + 30 * side), y + 5))
    ways = [(np.cos(a), np.sin(a)) for a in np.deg2rad([25, 155, -25, -155, 70, 110, -70, -110])]
    for (x, y), text, spot in zip(at, texts, spots, strict=True):
        wide, tall = _LETTER * TEXT * len(text) + 2, 1.35 * TEXT
        best = None
        for far in (11, 18, 27, 38, 52, 68):
            for c, s in ways:
                left = x + far * c - (wide if c < 0 else 0)
                box = (left, y + far * s - tall / 2, left + wide, y + far * s + tall / 2)
                inside = np.all(box[:2] > frame[0]) and np.all(box[2:] < frame[1])
                if inside and not any(_overlap(box, other) for other in taken):
                    best = (far * c, far * s, far, c)
                    break
            if best:
                break
        dx, dy, far, c = best or (11.0, 0.0, 11, 1.0)
        taken.append((x + dx - (wide if c < 0 else 0), y + dy - tall / 2, 0, 0))
        taken[-1] = (taken[-1][0], taken[-1][1], taken[-1][0] + wide, taken[-1][1] + tall)
        ax.annotate(
            text, spot, xytext=(dx, dy), textcoords="offset points", fontsize=TEXT, color=INK,
            ha="right" if c < 0 else "left", va="center", zorder=4,
            arrowprops={"arrowstyle": "-", "lw": 0.5, "color": INK} if far > 18 else None,
        )  # fmt: skip


def _overlap(a, b):
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
