"""Distances that a maker marks with dividers to lay out a bar, each with its two points."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from shapely.geometry import LineString, box
from shapely.ops import nearest_points

from platemodel.instrument.bar import Bar
from platemodel.instrument.hole_clearance import eye_and_stem
from platemodel.instrument.layout import REFERENCES, one_seventh
from platemodel.instrument.sound_hole import SoundHole, eye_spacing
from platemodel.instrument.strings import Post
from platemodel.instrument.top import Top

ON_MARKS = 0.25e-3  # m: closer to both one-seventh marks than this, an edge is said to lie on them


@dataclass(frozen=True, eq=False)
class Distance:
    """A distance in plan.

    Attributes
    ----------
    key : str
        Short name, the same for every top.
    label : str
        What to measure between, in words.
    value : float
        m; negative where the second point lies on the wrong side (bar outside the foot, over a hole).
    p, q : ndarray
        (2,) the two points, (x, y) in m.
    """

    key: str
    label: str
    value: float
    p: np.ndarray
    q: np.ndarray


def layout_distances(top: Top, bar: Bar, post: Post | None = None) -> tuple[Distance, ...]:
    """Every distance of a layout, straight across in plan and not over the arch.

    Parameters
    ----------
    post : Post, optional
        Left out if None or not present.

    Returns
    -------
    tuple of Distance
        Of the body, the bar against the axis and the one-seventh marks, the bar against foot, eye and stem,
        its ends, and the post.
    """
    bass = next((h for h in top.sound_holes if h.side == "bass"), None)
    parts = [*_body(top), *_from_axis(top, bar), *_foot(top, bar)]
    if bass is not None:
        parts += _hole(bar, bass)
    parts += _ends(top, bar)
    if post is not None and post.present:
        parts += _post(top, post)
    return tuple(parts)


def distance_table(distances: tuple[Distance, ...]) -> pd.DataFrame:
    """One row a distance: key, label, value_mm, and the two points in mm."""
    rows = [(d.key, d.label, *(round(1e3 * v, 2) + 0.0 for v in (d.value, *d.p, *d.q))) for d in distances]
    return pd.DataFrame(rows, columns=["key", "distance", "mm", "x1_mm", "y1_mm", "x2_mm", "y2_mm"])


def edge_on_marks(top: Top, bar: Bar) -> str | None:
    """Edge of the bar (``inner``, ``middle``, ``outer``) that lies on both one-seventh marks, or None.

    The rule is taught for the inner edge by some and for the middle by others (common practice, no source),
    so a mark means nothing until the edge is named.
    """
    upper, _, lower = top.outline.widest()
    x = np.array([lower.x, upper.x])
    for edge in REFERENCES:
        if np.abs(_edge(bar, edge, x) - one_seventh(top.outline, edge).at(x)).max() < ON_MARKS:
            return edge
    return None


def _edge(bar, edge, x):
    _, inner, outer = bar.flanks(np.atleast_1d(np.asarray(x, float)))
    return {"inner": inner, "middle": bar.at(np.atleast_1d(x)), "outer": outer}[edge]


def _body(top):
    upper, waist, lower = top.outline.widest()
    for key, name, line in (
        ("upper", "widest line of the upper bout", upper),
        ("waist", "narrowest line of the waist", waist),
        ("lower", "widest line of the lower bout", lower),
    ):
        axis = (line.x, 0.0)
        for side, y in (("bass", -line.bass), ("treble", line.treble)):
            yield _distance(f"half_{key}_{side}", f"{name}: axis to edge, {side} side", axis, (line.x, y))
    length, x = top.outline.body_length, top.bridge.x
    yield _distance("stop", "bridge line to the upper edge", (x, 0.0), (length, 0.0))
    yield _distance("bridge_lower", "bridge line to the lower edge", (x, 0.0), (0.0, 0.0))
    sides = {h.side: h for h in top.sound_holes}
    if len(sides) == 2:
        a, b = sides["bass"], sides["treble"]
        p, q = (np.array([h.upper_eye.x, h.upper_eye.y]) for h in (a, b))
        towards = (q - p) / np.hypot(*(q - p))
        yield Distance(
            "eye_spacing",
            "upper eyes, between their nearest edges",
            eye_spacing(a, b),
            p + towards * a.upper_eye.diameter / 2,
            q - towards * b.upper_eye.diameter / 2,
        )


def _from_axis(top, bar):
    upper, _, lower = top.outline.widest()
    for key, name, line in (("upper", "upper", upper), ("lower", "lower", lower)):
        yield _distance(
            f"seventh_{key}",
            f"one-seventh mark, {name} bout: 1/7 of the bass half width",
            (line.x, 0.0),
            (line.x, -line.bass / 7),
        )
    for key, name, x in (
        ("upper", "at the widest line of the upper bout", upper.x),
        ("bridge", "at the bridge line", top.bridge.x),
        ("lower", "at the widest line of the lower bout", lower.x),
    ):
        for edge in ("inner", "outer"):
            y = float(_edge(bar, edge, x)[0])
            yield _distance(f"{edge}_{key}", f"axis to {edge} edge of the bar {name}", (x, 0.0), (x, y))


def _foot(top, bar):
    x, bridge = top.bridge.x, top.bridge
    inner_foot = bridge.bass_edge + bridge.foot_length_across
    outer, inner = float(_edge(bar, "outer", x)[0]), float(_edge(bar, "inner", x)[0])
    yield Distance(
        "foot_outer",
        "outer edge of the bass foot to outer edge of the bar (plus: bar inside)",
        outer - bridge.bass_edge,
        np.array([x, bridge.bass_edge]),
        np.array([x, outer]),
    )
    yield Distance(
        "foot_inner",
        "inner edge of the bass foot to inner edge of the bar (plus: bar outside it)",
        inner_foot - inner,
        np.array([x, inner_foot]),
        np.array([x, inner]),
    )


def _hole(bar, hole: SoundHole):
    flank = bar.polygon
    eye, rest = eye_and_stem(hole)
    stem = rest.intersection(box(-1.0, -1.0, hole.upper_eye.x, 1.0))  # without the hook above the eye
    for key, name, shape in (("eye", "upper eye", eye), ("stem", "stem", stem)):
        if flank.intersects(shape):
            over = flank.intersection(shape)
            x = over.centroid.x
            outer = float(_edge(bar, "outer", x)[0])
            p, q = np.array([x, outer]), np.array([x, over.bounds[3]])
            value = -float(q[1] - p[1])
        else:
            p, q = (np.array(g.coords[0]) for g in nearest_points(flank, shape))
            value = float(flank.distance(shape))
        yield Distance(key, f"bar to the {name} of the bass sound hole, at the closest", value, p, q)


def _ends(top, bar):
    edge = top.outline.polygon
    for name, x, y, sign in (
        ("lower", bar.x_start, bar.y_start, -1.0),
        ("upper", bar.x_end, bar.y_end, 1.0),
    ):
        ray = LineString([(x, y), (x + sign * top.outline.body_length, y)]).intersection(edge)
        reach = sorted({c[0] for part in getattr(ray, "geoms", [ray]) for c in part.coords})
        far = [v for v in reach if sign * (v - x) > 0]
        if far:  # the bar's end lies on the plate
            at = min(far, key=lambda v: abs(v - x))
            yield _distance(
                f"end_{name}", f"{name} end of the bar to the edge, along the body", (x, y), (at, y)
            )
        body = 0.0 if sign < 0 else top.outline.body_length
        yield _distance(
            f"margin_{name}", f"{name} end of the bar to the end of the body", (x, 0.0), (body, 0.0)
        )
    yield Distance(
        "bar_length",
        "length of the bar along its axis, in plan",
        bar.length,
        np.array([bar.x_start, bar.y_start]),
        np.array([bar.x_end, bar.y_end]),
    )


def _post(top, post):
    place, foot = post.place(top.bridge), top.bridge.treble_foot
    front = place[0] + post.diameter / 2
    back = foot[0] - top.bridge.foot_along / 2
    yield _distance("post_axis", "axis to the middle of the sound post", (place[0], 0.0), tuple(place))
    yield Distance(
        "post_foot",
        "back of the treble foot to the front of the sound post",
        float(back - front),
        np.array([back, place[1]]),
        np.array([front, place[1]]),
    )


def _distance(key, label, p, q):
    p, q = np.asarray(p, float), np.asarray(q, float)
    return Distance(key, label, float(np.hypot(*(q - p))), p, q)
