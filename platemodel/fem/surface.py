"""Parametrised midsurfaces: position and derivatives, metric, normal, local frames."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike

from platemodel.fem.arrays import Floats, PlanFunction


@dataclass(frozen=True)
class SurfacePoints:
    """A surface evaluated at n points of its parameter plane.

    Attributes
    ----------
    r : array (n, 3)
        Position, m.
    r_1, r_2 : array (n, 3)
        First derivatives.
    r_11, r_12, r_22 : array (n, 3)
        Second derivatives.
    area : array (n,)
        Of the surface per area of the parameter plane.
    normal : array (n, 3)
        Unit normal along r_1 x r_2.
    dual_1, dual_2 : array (n, 3)
        r^1, r^2; theory (2.1).
    """

    r: np.ndarray
    r_1: np.ndarray
    r_2: np.ndarray
    r_11: np.ndarray
    r_12: np.ndarray
    r_22: np.ndarray
    area: np.ndarray = field(init=False, repr=False, compare=False)
    normal: np.ndarray = field(init=False, repr=False, compare=False)
    dual_1: np.ndarray = field(init=False, repr=False, compare=False)
    dual_2: np.ndarray = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        cross = np.cross(self.r_1, self.r_2)
        area = np.linalg.norm(cross, axis=1)
        object.__setattr__(self, "area", area)
        object.__setattr__(self, "normal", cross / area[:, None])
        g11 = (self.r_1**2).sum(1)
        g12 = (self.r_1 * self.r_2).sum(1)
        g22 = (self.r_2**2).sum(1)
        inverse = np.stack([g22, -g12, g11]) / area**2  # g^11, g^12, g^22
        object.__setattr__(self, "dual_1", inverse[0][:, None] * self.r_1 + inverse[1][:, None] * self.r_2)
        object.__setattr__(self, "dual_2", inverse[1][:, None] * self.r_1 + inverse[2][:, None] * self.r_2)

    def raised(self, derivative: str, step: float) -> "SurfacePoints":
        """Return the surface with a derivative of its height changed by a step at every point.

        Parameters
        ----------
        derivative : {"r", "r_1", "r_2", "r_11", "r_12", "r_22"}
            "r" is the height itself.
        step : float
            In the derivative's unit.
        """
        return replace(self, **{derivative: getattr(self, derivative) + step * np.array([0.0, 0.0, 1.0])})

    def christoffel(self) -> Floats:
        """Christoffel symbols, theory (2.1): array (n, 3, 2), pairs 11, 12, 22, then upper index."""
        second = np.stack([self.r_11, self.r_12, self.r_22], axis=1)  # (n, 3, 3)
        dual = np.stack([self.dual_1, self.dual_2], axis=1)
        return np.einsum("npk,nck->npc", second, dual)

    def frame(self, direction: ArrayLike) -> tuple[Floats, Floats]:
        """Orthonormal tangent frame whose first axis is the projection of a direction in space.

        Parameters
        ----------
        direction : array (3,) or (n, 3)
            Any vector that is nowhere along the normal.

        Returns
        -------
        axes : array (n, 3, 3)
            Rows e1, e2, normal.
        contravariant : array (n, 2, 2)
            E[i, a] with e_i = E[i, a] r_a.
        """
        direction = np.broadcast_to(np.asarray(direction, dtype=float), self.normal.shape)
        e1 = direction - (direction * self.normal).sum(1)[:, None] * self.normal
        length = np.linalg.norm(e1, axis=1)
        if np.any(length < 1e-6):
            msg = (
                "the frame's direction lies along the surface normal at some point; choose another direction"
            )
            raise ValueError(msg)
        e1 = e1 / length[:, None]
        e2 = np.cross(self.normal, e1)
        dual = np.stack([self.dual_1, self.dual_2], axis=1)
        tangent = np.stack([e1, e2], axis=1)
        return np.stack([e1, e2, self.normal], axis=1), np.einsum("nik,nak->nia", tangent, dual)


@dataclass(frozen=True)
class Surface:
    """A smooth midsurface over a plane of parameters.

    Attributes
    ----------
    evaluate : callable
        Takes parameters a1, a2 (arrays of n) and returns SurfacePoints.
    """

    evaluate: Callable[[np.ndarray, np.ndarray], SurfacePoints]

    def __call__(self, a1: ArrayLike, a2: ArrayLike) -> SurfacePoints:
        """Evaluate at parameters of shape (n,)."""
        return self.evaluate(np.asarray(a1, dtype=float), np.asarray(a2, dtype=float))


@dataclass(frozen=True)
class _Graph:
    """Points of the surface r = (x, y, z(x, y)); a class, so that it can be sent to another process."""

    height: Callable[[np.ndarray, np.ndarray], np.ndarray]

    def __call__(self, x: Floats, y: Floats) -> SurfacePoints:
        z = np.asarray(self.height(x, y), dtype=float)
        zero, one = np.zeros_like(x), np.ones_like(x)
        return SurfacePoints(
            np.stack([x, y, z[0]], axis=1),
            np.stack([one, zero, z[1]], axis=1),
            np.stack([zero, one, z[2]], axis=1),
            np.stack([zero, zero, z[3]], axis=1),
            np.stack([zero, zero, z[4]], axis=1),
            np.stack([zero, zero, z[5]], axis=1),
        )


def graph(height: PlanFunction) -> Surface:
    """Surface r = (x, y, z(x, y)) over the plan.

    Parameters
    ----------
    height : callable
        ``height(x, y)`` returns an array (6, n): z, z_x, z_y, z_xx, z_xy, z_yy in SI.
    """
    return Surface(_Graph(height))


def flat() -> Surface:
    """Return the plane z = 0."""
    return graph(lambda x, y: np.zeros((6, *np.shape(x))))
