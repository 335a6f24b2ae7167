"""Smooth scalar fields over the body: arching, thickness, midsurface."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import RectBivariateSpline

from platemodel.errors import GeometryError
from platemodel.instrument.smoothing import RadialSmoother

_DERIVATIVES = ((0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2))
_MOST_POINTS = 1200


@dataclass(frozen=True, eq=False)
class Misfit:
    """How far a smooth field misses the measured points, all in the field's unit.

    Attributes
    ----------
    largest : float
        Largest absolute difference.
    x, y : float
        Where that is, m.
    rms : float
        Root mean square over all points.
    scatter : float or None
        Standard deviation of one reading that the smoothing leaves over; larger than ``rms``, because the
        field follows the readings.
    """

    largest: float
    x: float
    y: float
    rms: float
    scatter: float | None = None


@dataclass(frozen=True, eq=False)
class SmoothField:
    """A field f(x, y) with continuous second derivatives on a rectangle.

    Attributes
    ----------
    x, y : ndarray
        (nx,), (ny,) grid lines, m.
    values : ndarray
        (nx, ny) values on the grid; between them a bicubic spline.
    source : str
        Where the field comes from.
    misfit : Misfit or None
        Against measured points, where there are some.

    Raises
    ------
    GeometryError
        If the grid is too small, not increasing, or holds values that are no numbers.
    """

    x: np.ndarray
    y: np.ndarray
    values: np.ndarray
    source: str = ""
    misfit: Misfit | None = None

    def __post_init__(self):
        for name in ("x", "y", "values"):
            a = np.array(getattr(self, name), dtype=float)
            a.flags.writeable = False
            object.__setattr__(self, name, a)
        if self.values.shape != (self.x.size, self.y.size) or min(self.values.shape) < 4:
            msg = (
                f"grid of {self.x.size} by {self.y.size} lines (at least 4 by 4) does not fit values "
                f"{self.values.shape}"
            )
            raise GeometryError(msg)
        for name, a in (("x", self.x), ("y", self.y)):
            if not (np.diff(a) > 0).all():
                msg = f"grid lines {name} must increase"
                raise GeometryError(msg)
        if not np.isfinite(self.values).all():
            i, j = np.argwhere(~np.isfinite(self.values))[0]
            msg = (
                f"no value at x = {1000 * self.x[i]:.4g}, y = {1000 * self.y[j]:.4g} mm; fill the gap or "
                "use scattered points"
            )
            raise GeometryError(msg)
        object.__setattr__(self, "_spline", RectBivariateSpline(self.x, self.y, self.values, kx=3, ky=3, s=0))

    @classmethod
    def constant(cls, value: float, box: tuple[float, float, float, float]) -> "SmoothField":
        """Build a field with one value everywhere in the box (x0, y0, x1, y1)."""
        x, y = np.linspace(box[0], box[2], 4), np.linspace(box[1], box[3], 4)
        return cls(x, y, np.full((4, 4), float(value)), "constant")

    @classmethod
    def from_points(
        cls,
        x: np.ndarray,
        y: np.ndarray,
        values: np.ndarray,
        box: tuple[float, float, float, float],
        pitch: float,
        noise: float | None = None,
        bases: Sequence["SmoothField"] = (),
        source: str = "scattered points",
        held: np.ndarray | None = None,
    ) -> "SmoothField":
        """Smooth field near scattered measured points, as smooth as their uncertainty allows.

        Radial cubic smoothing (second derivatives continuous at the points), by as much as is expected to err
        least; see `platemodel.instrument.smoothing`.

        Parameters
        ----------
        x, y, values : array_like
            (n,) places in m and what was measured there.
        box : tuple
            (x0, y0, x1, y1) where the field is wanted, m.
        pitch : float
            Grid pitch of the result, m.
        noise : float, optional
            Standard uncertainty of the measured values, in their unit; without it the readings' own scatter
            is found by cross-validation.
        bases : sequence of SmoothField
            Shapes that might be expected, the likeliest first. Only the difference to one of them, or to
            none, is smoothed, so that gaps between points follow it. A later one takes an earlier one's place
            where it halves the square of what the readings are foretold wrong by.
        held : array_like, optional
            (m, 3) places, m, and values that are known without a reading.

        Raises
        ------
        GeometryError
            If there are fewer than 6 points, points outside the box, or all on a line.
        """
        p = np.c_[np.asarray(x, float), np.asarray(y, float)]
        v = np.asarray(values, float)
        _check_points(p, v, box)
        centre, size = p.mean(axis=0), np.ptp(p, axis=0).max()
        chosen = None
        for base in (*bases, cls.constant(0.0, box)):
            smoother = RadialSmoother(*_thinned((p - centre) / size, v - base.value(*p.T)))
            best = smoother.by_cross_validation() if noise is None else smoother.by_noise(noise)
            if chosen is None or best[1] < 0.5 * chosen[0]:
                chosen = best[1], best[0], smoother, base
        _, smoothing, smoother, base = chosen
        known = None
        if held is not None:
            h = np.asarray(held, float)
            known = np.c_[(h[:, :2] - centre) / size, h[:, 2] - base.value(*h[:, :2].T)]
        gx, gy = grid_lines(box, pitch)
        grid = np.c_[tuple(a.ravel() for a in np.meshgrid(gx, gy, indexing="ij"))]
        f = smoother.fit(smoothing, known)((grid - centre) / size) + base.value(*grid.T)
        field = cls(gx, gy, f.reshape(gx.size, gy.size), source)
        return field.with_misfit(p[:, 0], p[:, 1], v, smoother.scatter(smoothing))

    def with_misfit(
        self, x: np.ndarray, y: np.ndarray, values: np.ndarray, scatter: float | None = None
    ) -> "SmoothField":
        """Return the field with its misfit taken against measured points, and their scatter if known."""
        e = self.value(x, y) - values
        k = int(np.abs(e).argmax())
        m = Misfit(float(abs(e[k])), float(x[k]), float(y[k]), float(np.sqrt(np.mean(e**2))), scatter)
        return SmoothField(self.x, self.y, self.values, self.source, m)

    @property
    def box(self) -> tuple[float, float, float, float]:
        """(x0, y0, x1, y1), m."""
        return float(self.x[0]), float(self.y[0]), float(self.x[-1]), float(self.y[-1])

    def value(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Values at points, shape of x and y broadcast.

        Raises
        ------
        GeometryError
            If a point lies outside the box.
        """
        x, y = self._inside(x, y)
        return self._spline.ev(x, y)

    def derivatives(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Array (6, ...): f, f_x, f_y, f_xx, f_xy, f_yy at points.

        Raises
        ------
        GeometryError
            If a point lies outside the box.
        """
        x, y = self._inside(x, y)
        return np.array([self._spline.ev(x, y, dx=i, dy=j) for i, j in _DERIVATIVES])

    def gradient(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Array (3, ...): f, f_x, f_y at points; raises as :meth:`derivatives`."""
        x, y = self._inside(x, y)
        return np.array([self._spline.ev(x, y, dx=i, dy=j) for i, j in _DERIVATIVES[:3]])

    def _inside(self, x, y):
        x, y = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float))
        x0, y0, x1, y1 = self.box
        out = ~((x >= x0) & (x <= x1) & (y >= y0) & (y <= y1))
        if out.any():
            k = np.flatnonzero(out.ravel())[0]
            msg = (
                f"point ({1000 * x.ravel()[k]:.4g}, {1000 * y.ravel()[k]:.4g}) mm is outside the field's box "
                f"x {1000 * x0:.4g} to {1000 * x1:.4g}, y {1000 * y0:.4g} to {1000 * y1:.4g} mm"
            )
            raise GeometryError(msg)
        return x, y


def grid_lines(box: tuple[float, float, float, float], pitch: float) -> tuple[np.ndarray, np.ndarray]:
    """Evenly spaced grid lines over a box (x0, y0, x1, y1) at about a pitch, m."""
    x0, y0, x1, y1 = box
    nx, ny = (max(4, int(np.ceil(d / pitch)) + 1) for d in (x1 - x0, y1 - y0))
    return np.linspace(x0, x1, nx), np.linspace(y0, y1, ny)


def _check_points(p, v, box):
    if v.shape != (len(p),) or len(p) < 6:
        msg = f"{len(p)} places and {v.size} values; at least 6 measured points are needed, one value each"
        raise GeometryError(msg)
    bad = ~np.isfinite(np.c_[p, v]).all(axis=1)
    bad |= (p < box[:2]).any(axis=1) | (p > box[2:]).any(axis=1)
    if bad.any():
        k = int(np.flatnonzero(bad)[0])
        msg = (
            f"point {k + 1} at ({1000 * p[k, 0]:.4g}, {1000 * p[k, 1]:.4g}) mm with value {v[k]:.4g} lies "
            f"outside the box x {1000 * box[0]:.4g} to {1000 * box[2]:.4g}, y {1000 * box[1]:.4g} to "
            f"{1000 * box[3]:.4g} mm"
        )
        raise GeometryError(msg)
    s = np.linalg.svd(p - p.mean(axis=0), compute_uv=False)
    if s[1] < 0.02 * s[0]:
        msg = "all points lie close to one line; measure across the plate as well"
        raise GeometryError(msg)


def _thinned(q, r):
    """Average points that share a cell, down to _MOST_POINTS; also how many each stands for."""
    cell = 1e-6
    while True:
        key, inverse, count = np.unique(np.round(q / cell), axis=0, return_inverse=True, return_counts=True)
        if len(key) <= _MOST_POINTS:
            break
        cell = max(2 * cell, 1e-3) if cell < 1e-3 else 1.25 * cell
    inverse = inverse.ravel()
    mean = [np.bincount(inverse, a) / count for a in (q[:, 0], q[:, 1], r)]
    return np.c_[mean[0], mean[1]], mean[2], count
