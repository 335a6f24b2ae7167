"""Air in a flat cavity between two walls, with holes, and walls that give."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import LinearNDInterpolator, NearestNDInterpolator
from scipy.sparse.linalg import eigsh
from scipy.special import ellipk
from skfem import Basis, BilinearForm, DiscreteField, ElementTriP2, MeshTri, asm
from skfem.assembly.form.form import FormExtraParams

from platemodel.fem.arrays import Floats, PlanFunction

_NULL = 1e-12  # of the highest eigenvalue, below which a mode is a free motion
DENSITY, SOUND = 1.20, 343.0  # kg/m3 and m/s of air at 20 degrees Celsius and 1013 hPa (textbook values)


class Cavity:
    """Rigid-walled modes of the air between two walls, pressure even over the depth.

    Parameters
    ----------
    mesh : skfem.MeshTri
        Plan of the cavity, m.
    depth : callable
        ``depth(x, y)``, m.
    count : int
        Modes kept; the first is even pressure.

    Attributes
    ----------
    omega : array (count,)
        1/s; the first is 0.
    shapes : array (n, count)
        Pressure at the unknowns, such that the integral of depth shape^2/(density sound^2) is 1.
    volume : float
        m3.
    depth : float
        Mean, m.
    """

    def __init__(self, mesh: MeshTri, depth: PlanFunction, count: int = 40) -> None:
        basis = Basis(mesh, ElementTriP2(), intorder=5)
        x = basis.global_coordinates()
        h = np.asarray(depth(x[0].ravel(), x[1].ravel()), dtype=float).reshape(x[0].shape)
        stiff, mass = asm(_GRADIENT, basis, h=h), asm(_VALUE, basis, h=h)
        one = np.ones(basis.N)
        self.volume = float(one @ (mass @ one))
        self.depth = self.volume / float(basis.dx.sum())
        size = float(one @ (stiff.diagonal()) / (one @ mass.diagonal()))
        start = np.random.default_rng(1).standard_normal(basis.N)
        values, shapes = eigsh(stiff, count, mass, sigma=-1e-3 * size, which="LM", v0=start)
        order = np.argsort(values)
        values, shapes = np.maximum(values[order], 0.0), shapes[:, order]
        values[0] = 0.0
        self.omega = SOUND * np.sqrt(values)
        self.shapes = shapes * np.sqrt(DENSITY) * SOUND
        points = basis.doflocs.T
        self._inside = LinearNDInterpolator(points, self.shapes)
        self._near = NearestNDInterpolator(points, self.shapes)

    def at(self, points: Floats) -> Floats:
        """Shapes at plan points (2, n): (n, count); outside the cavity those of its nearest point."""
        out = self._inside(points.T)
        missing = np.isnan(out[:, 0])
        out[missing] = self._near(points.T[missing])
        return out


@dataclass(frozen=True, eq=False)
class Hole:
    """An opening of the cavity to the open air.

    Attributes
    ----------
    points : array (2, n)
        Plan points spread evenly over it, m.
    inertance : float
        Of the air in and about it, alone in an infinite wall with free air on both sides, kg/m4.
    """

    points: np.ndarray
    inertance: float


def hole_inertances(cavity: Cavity, holes: Sequence[Hole], shapes: Floats) -> Floats:
    """Inertance of holes that share a cavity, less what its modes will count: (holes, holes), kg/m4.

    Parameters
    ----------
    shapes : array (holes, modes)
        Mean of the cavity's shapes over each hole.

    Notes
    -----
    `slot_inertance` gives each side of the wall a free half space. Under a wall at depth H the air of wave
    number k answers with coth(kH)/k instead of 1/k, of which the cavity's modes, even over the depth, bring
    1/(k^2 H). So the modes count 1 - w of their static part twice, w = kH (coth(kH) - 1), and that is taken
    off here. Two holes also drive each other through both half spaces, rho/(2 pi d) a side at distance d
    (point sources; Rayleigh, Theory of Sound, section 306 ff., from memory). The modes' own coupling between
    holes is left as it is, but for the same double count.
    """
    omega = cavity.omega[1 : shapes.shape[1]]
    kh = omega / SOUND * cavity.depth
    twice = (1.0 - kh * (1.0 / np.tanh(kh) - 1.0)) / omega**2
    out = -(shapes[:, 1:] * twice) @ shapes[:, 1:].T
    for a, hole in enumerate(holes):
        out[a, a] += hole.inertance
        for b, other in enumerate(holes[:a]):
            gap = hole.points[:, :, None] - other.points[:, None, :]
            near = float(np.mean(1.0 / np.hypot(*gap)))
            out[a, b] += 2.0 * DENSITY * near / (2.0 * np.pi)
            out[b, a] = out[a, b]
    return out


def slot_inertance(area: float, length: float, thickness: float) -> float:
    """Inertance of a long hole in a thin wall, both sides open, kg/m4.

    That of the ellipse of equal length and area in an infinite wall, whose conductivity is pi a/K(e) (a half
    the length, e the eccentricity; Rayleigh, Theory of Sound, section 306, from memory), plus the plug of air
    in the wall's thickness. A circle has conductivity 2 a.

    Parameters
    ----------
    area, length, thickness : float
        m2, m, m.
    """
    a = 0.5 * length
    b = area / (np.pi * a)
    if b > a:
        a = b = np.sqrt(a * b)
    conductivity = np.pi * a / ellipk(1.0 - (b / a) ** 2)
    return DENSITY * (1.0 / conductivity + thickness / area)


@dataclass(frozen=True, eq=False)
class AirModes:
    """Modes of walls and air together.

    Attributes
    ----------
    omega2 : array (m,)
        Ascending, 1/s2.
    motion : array (k, m)
        Of the wall's coordinates, then of the holes' (root' times their volumes).
    pressure : array (count, m)
        Of the cavity's shapes.
    air : array (m,)
        Share of the elastic energy that is in the air's pressure, 0 to 1.
    vectors, walls, coupling : array
        Eigenvectors of the symmetric form, the wall coordinates' circular frequencies, their coupling.
    root : array (holes, holes)
        Lower Cholesky factor of the holes' inertances: volumes are the inverse of root' times `motion`.
    """

    omega2: np.ndarray
    motion: np.ndarray
    pressure: np.ndarray
    air: np.ndarray
    vectors: np.ndarray
    walls: np.ndarray
    coupling: np.ndarray
    root: np.ndarray

    @property
    def frequencies(self) -> Floats:
        """Hz; 0 for free motions: (m,)."""
        return np.sqrt(np.maximum(self.omega2, 0.0)) / (2.0 * np.pi)

    def response(
        self, frequencies: ArrayLike, force: Floats, loss: Floats
    ) -> NDArray[np.complexfloating[Any, Any]]:
        """Coordinates' velocity per unit force at given frequencies.

        Parameters
        ----------
        frequencies : array (f,)
            Hz.
        force : array (k,)
            On the coordinates of `motion`.
        loss : array (m,)
            Loss factor of each mode.

        Returns
        -------
        array (k, f), complex

        Notes
        -----
        Modes with losses, and what of the force they do not take: that moves free masses.
        """
        w = 2.0 * np.pi * np.asarray(frequencies, dtype=float)
        elastic = self.omega2 > _NULL * self.omega2[-1]
        motion, values = self.motion[:, elastic], self.omega2[elastic]
        source = values * (motion.T @ force)
        x = source[:, None] / (values[:, None] * (1.0 + 1j * loss[elastic, None]) - w**2)
        return 1j * w * (motion @ x - (force - motion @ source)[:, None] / w**2)


def couple(
    wall_omega2: Floats,
    wall_coupling: ArrayLike,
    cavity: Cavity,
    holes: Sequence[Hole] = (),
    count: int | None = None,
) -> AirModes:
    """Modes of the air with walls that move.

    Parameters
    ----------
    wall_omega2 : array (k,)
        Of mass-normalised wall coordinates, 1/s2; 0 for free motions.
    wall_coupling : array (k, modes of the cavity)
        Integral of shape times outward displacement of each coordinate.
    count : int, optional
        Modes of the cavity taken; default all.

    Notes
    -----
    Pressure is sum of shapes times P: P'' + Omega^2 P = -C' u'', u'' + W^2 u = C P + f, a hole being a free
    coordinate of its own. With v = W u both are symmetric:
    [[W^2, -W C], [-C' W, Omega^2 + C' C]].
    """
    count = count or len(cavity.omega)
    coupling = np.zeros((0, count))
    if len(wall_omega2):
        coupling = np.asarray(wall_coupling, dtype=float)[:, :count]
    shapes = np.reshape([cavity.at(hole.points).mean(axis=0)[:count] for hole in holes], (len(holes), count))
    root = np.linalg.cholesky(hole_inertances(cavity, holes, shapes)) if holes else np.zeros((0, 0))
    coupling = np.concatenate([coupling, np.linalg.solve(root, shapes) if holes else shapes])
    walls = np.sqrt(np.maximum(np.concatenate([wall_omega2, np.zeros(len(holes))]), 0.0))
    k = len(walls)
    matrix = np.zeros((k + count, k + count))
    matrix[:k, :k] = np.diag(walls**2)
    matrix[:k, k:] = -walls[:, None] * coupling
    matrix[k:, :k] = matrix[:k, k:].T
    matrix[k:, k:] = np.diag(cavity.omega[:count] ** 2) + coupling.T @ coupling
    values, vectors = np.linalg.eigh(matrix)
    free, scale = walls == 0, np.maximum(np.abs(values), 1e-30)
    motion = vectors[:k] / np.where(free, 1.0, walls)[:, None]
    motion[free] = -(coupling[free] @ vectors[k:]) / scale
    air = (vectors[k:] ** 2).sum(axis=0)
    return AirModes(values, motion, vectors[k:], air, vectors, walls, coupling, root)


@BilinearForm
def _GRADIENT(u: DiscreteField, v: DiscreteField, w: FormExtraParams) -> Floats:
    return w.h * (u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1])


@BilinearForm
def _VALUE(u: DiscreteField, v: DiscreteField, w: FormExtraParams) -> Floats:
    return w.h * u * v
