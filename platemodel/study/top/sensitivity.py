"""Where a shaving moves which mode, and how much more the top sinks: exact derivatives.

The shape of a mode does not change to first order, so that one solution gives the effect of wood taken off
anywhere (Rayleigh's principle; for the deflection under its own load the adjoint solution is the deflection).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.fem.gradients import (
    RibShapes,
    height_coefficients,
    rib_shape_gradient,
    rib_shapes,
    shape_gradient,
    thickness_density,
)
from platemodel.instrument.bar import Bar
from platemodel.study.top.answers import NamedShapes, TopSolver
from platemodel.study.top.edge_supports import RIMS
from platemodel.study.top.meshed_top import MeshedTop, bar_rib
from platemodel.study.top.plan_fields import bells, differentiated, product
from platemodel.study.top.sampling import PlanGrid, plan_grid

SHAVING = 1e-4  # m: what the table of the bar takes off
STRETCH = 10e-3  # m of the bar's length
SCRAPE = 1e-8  # m3: what the maps take off, 0.1 mm over 1 cm2
STEP = 1e-4  # of a height or thickness, for the difference of closed formulas; errs by its square
SPOT_RADIUS = 1.0 / 45.0  # of the body length
FACES = {"inside": 1.0, "outside": -1.0, "both": 0.0}  # which way the midsurface moves


@dataclass(frozen=True, eq=False)
class ShapeDerivatives:
    """Derivatives of k values by thickness, height of the midsurface and height of the bar.

    Attributes
    ----------
    places : array (2, n)
        Quadrature points of the top in plan, m; those of the strip under the bar at the end.
    areas : array (n,)
        Area of midsurface that each point stands for, m2; 0 for those under the bar.
    by_thickness : array (n, k)
        Derivative by the top's thickness at each point (already times its area), midsurface held.
    by_shape : array (n_c1, k)
        Derivative by the midsurface's height, in coefficients of the shell's Argyris space, value per m.
    by_height : array (stations, k)
        Derivative by the bar's height at each of its stations, value per m.
    """

    places: np.ndarray
    areas: np.ndarray
    by_thickness: np.ndarray
    by_shape: np.ndarray
    by_height: np.ndarray


@dataclass(frozen=True, eq=False)
class Sensitivity(ShapeDerivatives):
    """Exact derivatives of modes 1, 2 and 5 and of the sinking under the bass foot, for one top and bar.

    Attributes
    ----------
    names : tuple of str
        ``f1_hz``, ``f2_hz``, ``f5_hz`` (those recognised), ``sink_sliding_m_per_n``, ``sink_held_m_per_n``.
    values : array (k,)
    """

    names: tuple[str, ...]
    values: np.ndarray
    model: MeshedTop
    bar: Bar | None

    def shaved(
        self, depth: Callable[[np.ndarray, np.ndarray], np.ndarray], face: str = "inside"
    ) -> pd.Series:
        """Change of each value, to first order, when wood is taken off the top.

        Parameters
        ----------
        depth : callable
            ``depth(x, y)`` gives the depth taken off, m, at places in plan; smooth over a few mm.
        face : {"inside", "outside", "both"}
            Wood off one face moves the midsurface away from it by half the depth; half off either leaves it.
        """
        change = -depth(*self.places) @ self.by_thickness
        if FACES[face]:
            steepness = self._steepness

            def lift(x, y):
                return FACES[face] * product(differentiated(depth, x, y), steepness(x, y))

            change = change + height_coefficients(self.model.shell, lift) @ self.by_shape
        return pd.Series(change, index=list(self.names))

    def _steepness(self, x, y):
        """Half of one over the upright part of the surface's normal, with derivatives: (6, n)."""
        return differentiated(lambda u, v: 0.5 / self.model.shell.surface(u, v).normal[:, 2], x, y)

    def planed(self, depth: Callable[[np.ndarray], np.ndarray]) -> pd.Series:
        """Change of each value, to first order, when wood is taken off the free edge of the bar.

        Parameters
        ----------
        depth : callable
            ``depth(x)`` gives the depth taken off, m, at stations from the lower edge; straight between.
        """
        if self.bar is None:
            return pd.Series(0.0, index=list(self.names))
        return pd.Series(-depth(self.bar.stations) @ self.by_height, index=list(self.names))

    def bar_table(self) -> pd.DataFrame:
        """Effect of 0.1 mm off 10 mm of the bar's length, running out to nothing over 10 mm on either side.

        Returns
        -------
        DataFrame
            A row a station: ``x_mm``, ``height_mm``, then a column of each of ``names``, change of the value.
        """
        if self.bar is None:
            return pd.DataFrame({"x_mm": [], "height_mm": [], **{name: [] for name in self.names}})
        x = self.bar.stations
        length = 0.5 * np.diff(x, prepend=x[0]) + 0.5 * np.diff(x, append=x[-1])
        hat = np.maximum(1.0 - np.abs(x - x[:, None]) / STRETCH, 1e-9)
        change = -SHAVING * STRETCH * (hat @ self.by_height) / (hat @ length)[:, None]
        columns = {name: change[:, i] for i, name in enumerate(self.names)}
        return pd.DataFrame({"x_mm": 1e3 * x, "height_mm": 1e3 * self.bar.heights, **columns})

    def map(self, face: str = "inside", grid: PlanGrid | None = None) -> tuple[PlanGrid, pd.DataFrame]:
        """Effect of a scrape on the top: 10 mm3 off a soft-edged spot, as 0.1 mm off 1 cm2.

        Parameters
        ----------
        face : {"inside", "outside", "both"}
        grid : PlanGrid, optional
            Where the spots lie; default the grid that modes are drawn on.

        Returns
        -------
        grid : PlanGrid
        table : DataFrame
            A row a point of the grid: ``x_mm``, ``y_mm``, then a column of each of ``names``, change of the
            value.
        """
        grid = grid or plan_grid(self.model.top)
        r = SPOT_RADIUS * self.model.top.outline.body_length
        out = []
        for at in np.array_split(grid.points, max(grid.points.shape[1] // 200, 1), axis=1):
            depth = bells(*self.places, at, r)[0]  # (n, m)
            scale = SCRAPE / (self.areas @ depth)
            change = -(depth.T @ self.by_thickness)
            if FACES[face]:

                def lift(x, y, at=at):
                    return FACES[face] * product(bells(x, y, at, r), self._steepness(x, y)[..., None])

                change += self.model.shell.interpolate(lift).T @ self.by_shape
            out.append(scale[:, None] * change)
        out = np.concatenate(out)
        x, y = 1e3 * grid.points
        columns = {name: out[:, i] for i, name in enumerate(self.names)}
        return grid, pd.DataFrame({"x_mm": x, "y_mm": y, **columns})


def sensitivity(model: TopSolver, bar: Bar | None = None) -> Sensitivity:
    """Differentiate modes 1, 2, 5 and the sinking under the bass foot by thickness and height.

    Parameters
    ----------
    model : TopModel or ReducedTop

    Notes
    -----
    Wood taken off one face also moves the midsurface by half the depth, which changes the arching under a
    local scrape; this is counted, of the top and of the bar on it.
    """
    names, values, vectors, own, omega2, factors = _collected(model.named_shapes(bar))
    model = model.full
    by = shape_derivatives(model, bar, vectors, own, omega2, factors)
    return Sensitivity(**vars(by), names=names, values=values, model=model, bar=bar)


def shape_derivatives(model: MeshedTop, bar: Bar | None, vectors, own, omega2, factors) -> ShapeDerivatives:
    """Differentiate values that each depend on x' (K - omega2 M) x of one shape.

    Parameters
    ----------
    bar : Bar or None
        The bar that is on.
    vectors, own : array (n_dofs, k), (n_own, k)
        Shapes in the shell's DOFs and in the bar's own.
    omega2 : array (k,)
        1/s2; 0 for a deflection.
    factors : array (k,)
        Value per x' (K - omega2 M) x.
    """
    shell = model.shell
    density = thickness_density(shell, vectors, omega2)
    table = shell.area_weights[:, None] * density * factors
    places, areas = shell.quadrature.points, shell.area_weights
    by_height = np.zeros((0, len(omega2)))
    by_shape = shape_gradient(shell, vectors, omega2)
    if bar is not None:
        rib = bar_rib(model, bar)
        at = rib_shapes(rib.seat, vectors, own, omega2)
        by_height = factors * _by_stations(model, bar, rib, at)
        under = factors * _by_plate_under(model, bar, rib, at)
        by_shape += rib_shape_gradient(rib.seat, lambda seat: bar_rib(model, bar, seat), vectors, own, omega2)
        table = np.concatenate([table, under])
        places = np.concatenate([places, rib.seat.middle], axis=1)
        areas = np.concatenate([areas, np.zeros(len(under))])
    return ShapeDerivatives(places, areas, table, by_shape * factors, by_height)


def _by_stations(model, bar, rib, at: RibShapes):
    """Change of the rib's energies by the height at each station: (stations, k)."""
    out = []
    step = STEP * float(bar.heights.max())
    for i in range(len(bar.stations)):
        sides = []
        for sign in (1.0, -1.0):
            heights = np.array(bar.heights)
            heights[i] += sign * step
            sides.append(at.energies(bar_rib(model, bar.with_height(heights), rib.seat)).sum(axis=0))
        out.append((sides[0] - sides[1]) / (2.0 * step))
    return np.array(out)


def _by_plate_under(model, bar, rib, at: RibShapes):
    """Change of the rib's energies by the plate's thickness at each of its points: (n, k)."""
    seat = rib.seat
    step = STEP * seat.mean_thickness

    def energies(thicker, mean):
        other = seat.with_thickness(seat.thickness + thicker, seat.mean_thickness + mean)
        return at.energies(bar_rib(model, bar, other))

    local = (energies(step, 0.0) - energies(-step, 0.0)) / (2.0 * step)
    mean = (energies(0.0, step) - energies(0.0, -step)).sum(axis=0) / (2.0 * step)
    return local + np.outer(seat.weights / seat.length, mean)


def _collected(found: NamedShapes):
    """Names, values, shapes (n_shell, k), own unknowns, omega2 and factors of the derivatives."""
    frequency = np.sqrt(found.omega2) / (2.0 * np.pi)
    names = (*(f"f{n.number}_hz" for n in found.namings), *(f"sink_{rim}_m_per_n" for rim in RIMS))
    factors = np.concatenate([1.0 / (8.0 * np.pi**2 * frequency), [-1.0, -1.0]])
    values = np.concatenate([frequency, found.give])
    vectors = np.column_stack([found.modes, found.pushes])
    own = np.column_stack([found.modes_own, found.pushes_own])
    return names, values, vectors, own, np.concatenate([found.omega2, [0.0, 0.0]]), factors
