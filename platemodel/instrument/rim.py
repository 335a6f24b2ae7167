"""Distance from the rim and smooth blending along it, on a grid over the body."""

from functools import cached_property

import numpy as np
import shapely
from scipy.ndimage import gaussian_filter, map_coordinates
from scipy.spatial import cKDTree

from platemodel.instrument.field import grid_lines
from platemodel.instrument.outline import Outline

MARGIN = 0.045  # of the body length, beyond the outline on every side
PITCH = 0.0085  # of the body length, 3 mm for a violin
# Of the body length, 11 mm for a violin: rim that has no reading nearer than this was not read, and is known
# at places so far apart.
READ = 0.03


class RimGrid:
    """Grid over an outline's box with distances from the rim.

    Attributes
    ----------
    x, y : ndarray
        Grid lines, m.
    X, Y : ndarray
        (nx, ny) places.
    """

    def __init__(self, outline: Outline):
        self.outline = outline
        length = outline.body_length
        self.x, self.y = grid_lines(outline.box(MARGIN * length), PITCH * length)
        self.X, self.Y = np.meshgrid(self.x, self.y, indexing="ij")

    @cached_property
    def distance(self) -> np.ndarray:
        """(nx, ny) distance from the rim, m, positive inside, negative outside."""
        d, _ = cKDTree(self.outline.points).query(np.c_[self.X.ravel(), self.Y.ravel()])
        shapely.prepare(self.outline.polygon)
        inside = shapely.contains_xy(self.outline.polygon, self.X.ravel(), self.Y.ravel())
        return np.where(inside, d, -d).reshape(self.X.shape)

    def edge_weight(self, reach: float) -> np.ndarray:
        """(nx, ny) 1 on and outside the rim, falling smoothly to 0 at ``reach`` (m) inside."""
        # Full a little inside the rim already, so that the smoothing below does not lower it on the rim.
        t = np.clip(1.15 * (1 - self.distance / reach), 0, 1)
        w = t**3 * (10 - 15 * t + 6 * t**2)
        # Distance has a ridge inside the corners; a touch of smoothing keeps second derivatives bounded
        # there.
        return self.smoothed(w, 0.25 * reach)

    def smoothed(self, f: np.ndarray, sigma: float) -> np.ndarray:
        """Grid values smoothed by a Gaussian of standard width sigma, m."""
        return gaussian_filter(
            f, (sigma / (self.x[1] - self.x[0]), sigma / (self.y[1] - self.y[0])), mode="nearest"
        )

    def unread_edge(self, x: np.ndarray, y: np.ndarray, reach: float) -> np.ndarray:
        """Weight (nx, ny) of the edge as far as ``reach``, m, where no reading at x, y (n,) is near it."""
        away, _ = cKDTree(np.c_[x, y]).query(self.outline.points)
        _, nearest = cKDTree(self.outline.points).query(np.c_[self.X.ravel(), self.Y.ravel()])
        far = away > READ * self.outline.body_length
        return self.edge_weight(reach) * self.smoothed(
            far[nearest].reshape(self.X.shape).astype(float), reach
        )

    def spread_from_rim(self, values: np.ndarray, sigma: float) -> np.ndarray:
        """(nx, ny) field that takes about the given values (n,) at the outline's points.

        A Gaussian-weighted mean of the nearby rim values, times a weight that falls from 1 at the rim to 0 a
        few sigma away.
        """
        u = (self.outline.points[:, 0] - self.x[0]) / (self.x[1] - self.x[0])
        v = (self.outline.points[:, 1] - self.y[0]) / (self.y[1] - self.y[0])
        step = np.hypot(*(np.roll(self.outline.points, -1, axis=0) - self.outline.points).T)
        sums = []
        for amount in (values * step, step):
            g = np.zeros(self.X.shape)
            i, j = np.floor(u).astype(int), np.floor(v).astype(int)
            a, b = u - i, v - j
            for di, dj, w in (
                (0, 0, (1 - a) * (1 - b)),
                (1, 0, a * (1 - b)),
                (0, 1, (1 - a) * b),
                (1, 1, a * b),
            ):
                np.add.at(g, (i + di, j + dj), amount * w)
            sums.append(self.smoothed(g, sigma))
        # A straight rim gives this density on the rim itself.
        on_rim = (self.x[1] - self.x[0]) * (self.y[1] - self.y[0]) / (np.sqrt(2 * np.pi) * sigma)
        floor = 0.02 * on_rim
        mean = sums[0] / (sums[1] + floor)
        return mean

    def at_rim(self, f: np.ndarray) -> np.ndarray:
        """Grid values interpolated at the outline's points, (n,)."""
        u = (self.outline.points[:, 0] - self.x[0]) / (self.x[1] - self.x[0])
        v = (self.outline.points[:, 1] - self.y[0]) / (self.y[1] - self.y[0])
        return map_coordinates(f, [u, v], order=3, mode="nearest")


def rim_not_read(outline: Outline, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Places (m, 2) on the rim, m, that no reading at x, y (n,) is near to."""
    line = outline.polygon.exterior
    reach = READ * outline.body_length
    rim = np.array([line.interpolate(s).coords[0] for s in np.arange(0.0, line.length, reach)])
    away, _ = cKDTree(np.c_[x, y]).query(rim)
    return rim[away > reach]
