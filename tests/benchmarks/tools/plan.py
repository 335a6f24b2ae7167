"""A top with its bar as a solid body: triangles in plan with curved rims, and where their points lie.

Shared by the tools that the shell is compared with. None of the shell's own mesh or elements is used: only
the top's outline, midsurface and thickness, and the bar's line and heights.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from platemodel.instrument.bar import Bar
from platemodel.instrument.top import Top

PLATE, BAR = 1, 2
MID = ((0, 1), (1, 2), (2, 0))  # corners of a triangle's sides


@dataclass(frozen=True, eq=False)
class Body:
    """A top and perhaps its bar, as functions of the plan.

    Attributes
    ----------
    top : Top
    bar : Bar or None
        Its section is taken as a full rectangle, upright.
    """

    top: Top
    bar: Bar | None = None

    def place(self, plan, level):
        """Points in space, m.

        Parameters
        ----------
        plan : array (2, n)
            m, of the foot on the midsurface.
        level : array (n,)
            1 outer face, 0 inner face, along the normal; from 0 down to -1 the bar's free edge, upright.

        Returns
        -------
        array (3, n)
        """
        out = self._plate(plan, np.maximum(level, 0.0))
        if self.bar is not None:
            out[2] -= np.maximum(-level, 0.0) * self._depth(out)
        return out

    def foot(self, xy):
        """Plan (2, n) of the feet whose points on the inner face lie over xy (2, n)."""
        plan = xy
        for _ in range(8):
            plan = plan + xy - self._plate(plan, np.zeros_like(plan[0]))[:2]
        return plan

    def _plate(self, plan, level):
        height, slope_x, slope_y = self.top.midsurface().gradient(*plan)
        normal = np.stack([-slope_x, -slope_y, np.ones_like(height)])
        normal /= np.linalg.norm(normal, axis=0)
        return np.stack([*plan, height]) + (level - 0.5) * self.top.thickness.value(*plan) * normal

    def _depth(self, face):
        """From the glued face straight down to the free edge, which is level across the bar's width."""
        bar = self.bar
        cosine, sine = np.cos(bar.angle), np.sin(bar.angle)
        along = (face[0] - bar.x_start) * cosine + (face[1] - bar.y_start) * sine
        x = np.clip(bar.x_start + along * cosine, bar.x_start, bar.x_end)
        middle = self._plate(self.foot(np.stack([x, bar.at(x)])), np.zeros_like(x))
        return face[2] - (middle[2] - bar.height(x))


@dataclass(frozen=True, eq=False)
class Plan:
    """Triangles whose sides on a rim follow it as parabolas.

    Attributes
    ----------
    points : array (2, n)
        Corners, m.
    triangles : int array (3, m)
        Counter-clockwise.
    part : int array (m,)
        `PLATE`, or `BAR` where the bar lies under it.
    bulge : array (m, 3, 2)
        From the middle of each side of a triangle (`MID`) to the rim's curve, m; 0 inside.
    """

    points: np.ndarray
    triangles: np.ndarray
    part: np.ndarray
    bulge: np.ndarray

    def at(self, weights, curved=True):
        """Points of every triangle at barycentric weights (k, 3): array (m, k, 2)."""
        out = np.einsum("kc,cdm->mkd", weights, self.points[:, self.triangles].swapaxes(0, 1))
        if curved:
            bow = np.stack([4 * weights[:, a] * weights[:, b] for a, b in MID], axis=1)
            out = out + np.einsum("ks,msd->mkd", bow, self.bulge)
        return out


def plan_mesh(body: Body, size: float, under_bar: float = 5.5e-3, turn: float = 0.5) -> Plan:
    """Mesh the plan, the bar's glued face as a part of its own.

    Parameters
    ----------
    body : Body
    size : float
        Largest triangle side, m.
    under_bar : float
        Largest side along and under the bar, m.
    turn : float
        Largest turning of a rim along one side, rad.
    """
    from netgen.geom2d import SplineGeometry  # loads a large library

    loops = [body.top.outline, *body.top.sound_holes]
    geometry, scale = SplineGeometry(), body.top.outline.body_length

    def draw(polygon, left, right, largest):
        ids = [geometry.AppendPoint(*point) for point in polygon / scale]
        for a, b in zip(ids, [*ids[1:], ids[0]], strict=True):
            geometry.Append(["line", a, b], leftdomain=left, rightdomain=right, maxh=largest / scale)

    for k, loop in enumerate(loops):
        small = size if k == 0 else 0.5 * size
        draw(_polygon(loop, small, turn), *((PLATE, 0) if k == 0 else (0, PLATE)), small)
    if body.bar is not None:
        draw(_glued_face(body, under_bar), BAR, PLATE, under_bar)
        geometry.SetDomainMaxH(BAR, under_bar / scale)
    made = geometry.GenerateMesh(maxh=size / scale, grading=0.6, quad_dominated=False)
    points = np.array([p.p[:2] for p in made.Points()]).T * scale
    triangles = np.array([[v.nr - 1 for v in e.vertices] for e in made.Elements2D()]).T
    part = np.array([e.index for e in made.Elements2D()])
    return _curved(points, triangles, part, loops)


def _polygon(loop, size, turn):
    """Points of a closed curve, all its corners among them, spaced by length or by turning."""
    points, starts = _counter_clockwise(loop.points), np.sort(np.asarray(loop.corners, dtype=int))
    if points is not loop.points:
        starts = np.sort(len(points) - 1 - starts)
    chosen, n = [], len(points)
    for k, start in enumerate(starts):
        count = (starts[(k + 1) % len(starts)] - start) % n or n
        index = (start + np.arange(count + 1)) % n
        step = np.diff(points[index], axis=0)
        length, heading = np.hypot(*step.T), np.unwrap(np.arctan2(step[:, 1], step[:, 0]))
        turning = np.abs(np.diff(heading, prepend=heading[0]))
        along = np.r_[
            0.0, np.cumsum(np.maximum(length / size, np.minimum(turning / turn, 4 * length / size)))
        ]
        sides = max(int(np.ceil(along[-1] - 1e-9)), 1)
        cut = np.unique(np.searchsorted(along, np.linspace(0, along[-1], sides + 1)[:-1] - 1e-12))
        chosen.append(index[np.minimum(cut, count - 1)])
    return points[np.concatenate(chosen)]


def _glued_face(body, step):
    """Feet of the rim of the bar's glued face, which is a rectangle in plan, counter-clockwise."""
    bar = body.bar
    along = np.array([np.cos(bar.angle), np.sin(bar.angle)])
    half = 0.5 * bar.width * np.array([-along[1], along[0]])
    start, end = np.array([bar.x_start, bar.y_start]), np.array([bar.x_end, bar.y_end])
    n = int(np.ceil(bar.length / step))
    long, short = np.linspace(0, 1, n + 1)[:-1, None], np.linspace(0, 1, int(np.ceil(bar.width / step)) + 1)
    corners = (start - half, end - half, end + half, start + half, start - half)
    sides = [
        a + (b - a) * (long if k % 2 == 0 else short[:-1, None]) for k, (a, b) in enumerate(pairwise(corners))
    ]
    return body.foot(np.concatenate(sides).T).T


def _counter_clockwise(points):
    x, y = points.T
    return points if np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) > 0 else points[::-1]


def _curved(points, triangles, part, loops):
    """Move what lies on a rim onto the curve."""
    corner = points[:, triangles]
    (ax, bx, cx), (ay, by, cy) = corner
    flip = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax) < 0
    triangles = np.where(flip, triangles[[0, 2, 1]], triangles)
    sides = np.stack([np.sort(triangles[list(pair)], axis=0) for pair in MID], axis=1)  # (2, side, m)
    keys, where, count = np.unique(sides.reshape(2, -1), axis=1, return_inverse=True, return_counts=True)
    rings = shapely.MultiLineString([np.vstack([loop.points, loop.points[:1]]) for loop in loops])
    on_rim = np.unique(keys[:, count == 1])

    def snap(xy):
        """Nearest points on the rims."""
        lines = shapely.shortest_line(rings, shapely.points(xy))
        return shapely.get_coordinates(lines).reshape(-1, 2, 2)[:, 0]

    points = points.copy()
    points[:, on_rim] = snap(points[:, on_rim].T).T
    middle = 0.5 * (points[:, keys[0]] + points[:, keys[1]]).T
    bulge = np.zeros_like(middle)
    bulge[count == 1] = snap(middle[count == 1]) - middle[count == 1]
    return Plan(points, triangles, part, bulge[where.ravel()].reshape(3, -1, 2).swapaxes(0, 1))
