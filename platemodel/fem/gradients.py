"""Exact derivatives of energies with the mode held: by a shell's thickness, by its shape, by a rib.

A frequency or a deflection changes, to first order, as the energies of its own shape do. With
K x = lambda M x and x' M x = 1: d lambda = x' (dK - lambda dM) x. With K u = f: d(f' u) = -u' dK u. Where the
derivative of a closed formula at a point is long (frames, turned wood, Christoffel symbols), a difference of
two values of it stands for it; the shapes are not solved for again.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from platemodel.fem.arrays import Floats, Ints, PlanFunction
from platemodel.fem.rib import MOTIONS, ROWS, STRAINS, Rib
from platemodel.fem.seat import MIDDLE, Seat
from platemodel.fem.section import stiffness
from platemodel.fem.shell import Shell
from platemodel.fem.station import Station
from platemodel.fem.strains import LocalVectors, strains
from platemodel.fem.supports import EDGE_POINTS, edge_station

# Derivatives of the height over the parameter plane that energies depend on, and their steps: slopes, then
# curvatures in 1/m. Small, because the stretching that a change of slope causes is stiff: 2e-6 is left.
BY_CHORD = ("r", 5e-8)  # m: lines of a rib that rise against each other
BY_HEIGHT = (("r_1", 1e-5), ("r_2", 1e-5), ("r_11", 1e-4), ("r_12", 1e-4), ("r_22", 1e-4))


def _squared_motion(shell: Shell, station: Station, vectors: Floats) -> tuple[Floats, Floats]:
    """Squares of displacement and of the director's rotation at the points: two of (n, k)."""
    local = LocalVectors(shell, vectors, station)
    value = station.c1[0][:, None]
    moved = np.sum([local.times(value, first=21 * c)[:, 0] ** 2 for c in range(3)], axis=0)
    return moved, (local.times(shell.director_rows(station)) ** 2).sum(axis=1)


def thickness_density(shell: Shell, vectors: Floats, omega2: Floats) -> Floats:
    """Change of x' (K - omega2 M) x by the shell's thickness, midsurface and shape held.

    Parameters
    ----------
    vectors : array (n_dofs, k)
        Shapes in the shell's DOFs.
    omega2 : array (k,)
        1/s2; 0 for a deflection.

    Returns
    -------
    array (n, k)
        At the shell's quadrature points, per metre of thickness and per area of the midsurface.
    """
    station, h = shell.quadrature, shell.thickness
    parts = strains(shell, vectors).energy_density(stiffness(shell.section, station.axes, h))
    moved, turned = _squared_motion(shell, station, vectors)
    # membrane and shear stiffness grow as h, bending as h^3, mass as h, rotary inertia as h^3
    h, density = h[:, None], shell.section.density
    inertia = moved + 0.25 * h**2 * turned
    return (parts[0] + 3.0 * parts[1] + parts[2]) / h - omega2 * density * inertia


def _energies(shell: Shell, station: Station, thickness: Floats, vectors: Floats, omega2: Floats) -> Floats:
    """Compute x' (K - omega2 M) x at points, per area of the parameter plane: (n, k)."""
    h, density = thickness, shell.section.density
    parts = strains(shell, vectors, station).energy_density(stiffness(shell.section, station.axes, h))
    moved, turned = _squared_motion(shell, station, vectors)
    h = h[:, None]
    inertia = h * moved + h**3 / 12.0 * turned
    return (parts.sum(axis=0) - omega2 * density * inertia) * station.surface.area[:, None]


def shape_gradient(shell: Shell, vectors: Floats, omega2: Floats) -> Floats:
    """Change of x' (K - omega2 M) x of the shell by the height of its midsurface, plan and shape held.

    Parameters
    ----------
    shell : Shell
        Of a graph: parameters are x and y.
    vectors, omega2
        See `thickness_density`.

    Returns
    -------
    array (n_c1, k)
        By the coefficients of the height in the Argyris space, see `height_coefficients`.
    """
    station = shell.quadrature
    plan = shell.area_weights / station.surface.area  # area in the parameter plane
    out = np.zeros((shell.n_c1, vectors.shape[1]))
    dofs = shell.c1_dofs(station.elements)
    for i, (name, step) in enumerate(BY_HEIGHT):
        sides = []
        for sign in (1.0, -1.0):
            surface = station.surface.raised(name, sign * step)
            moved = station.on(surface, shell.section.direction(surface))
            sides.append(_energies(shell, moved, shell.thickness, vectors, omega2))
        change = (sides[0] - sides[1]) * (plan / (2.0 * step))[:, None]
        _add(out, dofs, station.c1[1 + i], change)
    return out


@dataclass(frozen=True, eq=False)
class EdgeGradient:
    """Change of x' (K - omega2 M) x of k shapes as a free edge moves outwards in the parameter plane.

    Attributes
    ----------
    station : Station
        n points along the edge.
    lengths : array (n,)
        Length of edge in the parameter plane that each point stands for.
    thickness : array (n,)
        m.
    table : array (n, k)
        Per metre of shift square to the edge, already times the lengths.
    """

    station: Station
    lengths: np.ndarray
    thickness: np.ndarray
    table: np.ndarray


def edge_gradient(shell: Shell, facets: Ints, vectors: Floats, omega2: Floats) -> EdgeGradient:
    """Differentiate x' (K - omega2 M) x of a shell by the place of a free edge.

    Parameters
    ----------
    facets : int array (m,)
        Free boundary edges.
    vectors, omega2
        See `thickness_density`.

    Notes
    -----
    Hadamard's derivative: the strip that is added brings its own energy density, and what a free edge does
    not carry stays nought (e.g. Sokolowski and Zolesio, Introduction to shape optimization, 1992, from
    memory). Surface and thickness go on past the edge as they are.
    """
    station, _, _ = edge_station(shell, facets)
    start, stop = (shell.mesh.p[:, shell.mesh.facets[i, facets]] for i in (0, 1))
    weight = 0.5 * np.polynomial.legendre.leggauss(EDGE_POINTS)[1]
    length = np.outer(np.hypot(*(stop - start)), weight).ravel()
    h = np.asarray(shell.section.thickness(*station.points), dtype=float)
    energies = _energies(shell, station, h, vectors, omega2)
    return EdgeGradient(station, length, h, length[:, None] * energies)


def _add(out: Floats, dofs: Ints, rows: Floats, values: Floats) -> None:
    """Add rows' values to the unknowns: rows (n, 21), values (n, k)."""
    for j in range(values.shape[1]):
        out[:, j] += np.bincount(dofs.ravel(), (rows * values[:, j, None]).ravel(), len(out))


def height_coefficients(shell: Shell, height: PlanFunction) -> Floats:
    """Coefficients in the Argyris space of a height over the plan.

    Parameters
    ----------
    height : callable
        ``height(x, y)`` returns an array (6, n) of z, z_x, z_y, z_xx, z_xy, z_yy.

    Returns
    -------
    array (n_c1,)
    """
    return shell.interpolate(lambda x, y: np.asarray(height(x, y))[..., None])[:, 0]


@dataclass(frozen=True, eq=False)
class RibShapes:
    """Shapes at a rib's points, from which its energies follow for any other rib on the same seat.

    Attributes
    ----------
    strains : array (n, len(STRAINS), k)
    motions : array (n, len(MOTIONS), k)
    omega2 : array (k,)
    """

    strains: np.ndarray
    motions: np.ndarray
    omega2: np.ndarray

    def energies(self, rib: Rib) -> Floats:
        """Compute x' (K - omega2 M) x of the rib alone at each of its points: (n, k)."""
        stiff, heavy = rib.factors
        moving = ((heavy @ self.motions) ** 2).sum(axis=1)
        return ((stiff @ self.strains) ** 2).sum(axis=1) - self.omega2 * moving


def rib_shapes(seat: Seat, vectors: Floats, own: Floats, omega2: Floats) -> RibShapes:
    """Evaluate shapes at a rib's points.

    Parameters
    ----------
    vectors : array (shell DOFs, k)
    own : array (n_own, k)
        The rib's own shear field.
    omega2 : array (k,)
    """
    plain, moving = ROWS
    values = seat.project(vectors, (*plain, *moving))
    mine = {name: (table[:, : len(own)] @ own)[:, None] for name, table in seat.own_tables.items()}
    cut = len(plain)
    return RibShapes(
        np.concatenate([values[:, :cut], *(mine[name] for name in STRAINS[cut:])], axis=1),
        np.concatenate([values[:, cut:], *(mine[name] for name in MOTIONS[len(moving) :])], axis=1),
        np.asarray(omega2, dtype=float),
    )


def rib_shape_gradient(
    seat: Seat, rib_on: Callable[[Seat], Rib], vectors: Floats, own: Floats, omega2: Floats
) -> Floats:
    """Change of a rib's x' (K - omega2 M) x by the height of the midsurface under it, plan and shape held.

    Parameters
    ----------
    rib_on : callable
        Makes the rib on a seat.
    vectors, own, omega2
        See `rib_shapes`.

    Returns
    -------
    array (n_c1, k)
        As `shape_gradient`.
    """
    shell = seat.shell
    out = np.zeros((shell.n_c1, vectors.shape[1]))
    for i, (name, step) in enumerate((BY_CHORD, *BY_HEIGHT)):
        for where in range(MIDDLE + (name in ("r_1", "r_2"))):
            sides = []
            for sign in (1.0, -1.0):
                other = seat.raised(name, sign * step, where)
                sides.append(rib_shapes(other, vectors, own, omega2).energies(rib_on(other)))
            change = (sides[0] - sides[1]) / (2.0 * step)
            lines = seat.lines[2:] if where == MIDDLE else (seat.lines[where],)
            for line in lines:  # the middle line's slope is the mean of the inner lines'
                _add(out, shell.c1_dofs(line.elements), line.c1[i], change / len(lines))
    return out
