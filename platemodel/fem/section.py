"""The plate's section: thickness, wood carved in space, and its stiffness per unit area of midsurface."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from platemodel.fem.arrays import Floats, PlanFunction
from platemodel.fem.material import checked_compliance
from platemodel.fem.surface import SurfacePoints

SHEAR_FACTOR = 5.0 / 6.0  # parabolic shear stress across a rectangle (Reissner 1945)


@dataclass(frozen=True)
class Section:
    """What the shell is made of.

    Attributes
    ----------
    thickness : callable
        ``thickness(a1, a2)`` in m for parameters of shape (n,).
    compliance : array (6, 6)
        Engineering compliance in the material's axes, 1/Pa, order LL, RR, TT, RT, LT, LR.
    density : float
        kg/m3.
    axes : array (3, 3) or None
        Rows: unit vectors L, R, T in space. Carved wood: the same everywhere, whatever the slope.
        None: the material follows the surface, L along the projection of ``along``.
    along : array (3,) or callable
        Direction of the local frame, or of L when ``axes`` is None; a callable takes SurfacePoints and
        returns (n, 3).

    Raises
    ------
    ValueError
        A compliance that no material has, a density that is not positive, or axes that are not square to each
        other.
    """

    thickness: Callable[[np.ndarray, np.ndarray], np.ndarray]
    compliance: np.ndarray
    density: float
    axes: np.ndarray | None = None
    along: object = (1.0, 0.0, 0.0)

    def __post_init__(self) -> None:
        object.__setattr__(self, "compliance", checked_compliance(self.compliance))
        if not (np.isfinite(self.density) and self.density > 0):
            msg = f"density is {self.density} kg/m3; it must be positive"
            raise ValueError(msg)
        if self.axes is not None:
            axes = np.asarray(self.axes, dtype=float)
            if axes.shape != (3, 3) or not np.allclose(axes @ axes.T, np.eye(3), atol=1e-6):
                msg = f"axes must be unit vectors L, R, T in rows, square to each other; found {self.axes}"
                raise ValueError(msg)

    def __repr__(self) -> str:
        along, across = 1e-9 / self.compliance[0, 0], 1e-9 / self.compliance[1, 1]
        grain = "follows the surface" if self.axes is None else "fixed in space"
        return f"Section(E {along:.3g} and {across:.3g} GPa, {self.density:.4g} kg/m3, material {grain})"

    def direction(self, surface_points: SurfacePoints) -> Floats:
        """Direction of the local frame at surface points: (n, 3) or (3,)."""
        if callable(self.along):
            return self.along(surface_points)
        return np.asarray(self.along if self.axes is None else self.axes[0], dtype=float)


def constant(value: float) -> PlanFunction:
    """Return a thickness that is the same everywhere, m.

    Raises
    ------
    ValueError
        Not positive.
    """
    if not (np.isfinite(value) and value > 0):
        msg = f"thickness is {value} m; it must be positive"
        raise ValueError(msg)
    return lambda a1, a2: np.full(np.shape(a1), float(value))


def rotate_compliance(compliance: Floats, rotation: Floats) -> Floats:
    """Compliance in new axes.

    Parameters
    ----------
    compliance : array (6, 6)
        Engineering compliance in old axes, order 11, 22, 33, 23, 13, 12.
    rotation : array (n, 3, 3)
        Rows: new axes expressed in the old ones.

    Returns
    -------
    array (n, 6, 6)

    Notes
    -----
    With the stress transformation T (new = T old), S' = T^-T S T^-1; theory (4.1).
    """
    old_from_new = stress_transformation(np.swapaxes(np.asarray(rotation, dtype=float), -1, -2))
    return np.swapaxes(old_from_new, -1, -2) @ compliance @ old_from_new


def stress_transformation(rotation: Floats) -> Floats:
    """Matrix that turns stresses into other axes.

    Parameters
    ----------
    rotation : array (n, 3, 3)
        Rows: the axes turned to, expressed in those turned from.

    Returns
    -------
    array (n, 6, 6)
        For stresses in the order 11, 22, 33, 23, 13, 12 (e.g. Ting, Anisotropic Elasticity, 1996, section
        2.3, from memory).
    """
    a = np.asarray(rotation, dtype=float)
    pairs = ((0, 0), (1, 1), (2, 2), (1, 2), (0, 2), (0, 1))
    out = np.empty((*a.shape[:-2], 6, 6))
    for row, (i, j) in enumerate(pairs):
        for column, (k, m) in enumerate(pairs):
            term = a[..., i, k] * a[..., j, m]
            out[..., row, column] = term if k == m else term + a[..., i, m] * a[..., j, k]
    return out


def compliance_in(frame_axes: Floats, compliance: ArrayLike, axes: Floats | None) -> Floats:
    """Compliance in local frames.

    Parameters
    ----------
    frame_axes : array (n, 3, 3)
        Rows e1, e2, normal in space.
    compliance : array (6, 6)
        In material axes.
    axes : array (3, 3) or None
        Rows L, R, T in space; None: L, R, T along e1, e2, normal.

    Returns
    -------
    array (n, 6, 6)

    Raises
    ------
    ValueError
        A compliance that no material has: what a rib is made of is first seen here.
    """
    compliance = checked_compliance(compliance)
    if axes is None:
        return np.broadcast_to(compliance, (len(frame_axes), 6, 6))
    return rotate_compliance(compliance, frame_axes @ np.asarray(axes, dtype=float).T)


@dataclass(frozen=True)
class Stiffness:
    """Stiffness per unit area at n points, in the local frame.

    Attributes
    ----------
    membrane, bending : array (n, 3, 3)
        N/m and N m; strains ordered 11, 22, 2*12.
    shear : array (n, 2, 2)
        N/m, including the shear factor.
    tilt : array (n, 2, 3)
        Transverse shear strain that a membrane strain causes by itself where the grain leaves the surface.
    """

    membrane: np.ndarray
    bending: np.ndarray
    shear: np.ndarray
    tilt: np.ndarray


def plane_stress(compliance: Floats) -> tuple[Floats, Floats, Floats]:
    """Reduce compliances to plane stress and transverse shear; theory (4.2).

    Parameters
    ----------
    compliance : array (n, 6, 6)
        In the local frame (1, 2 tangent, 3 normal).

    Returns
    -------
    q : array (n, 3, 3)
        Plane-stress stiffness, Pa, order 11, 22, 12.
    g : array (n, 2, 2)
        Transverse shear stiffness (13, 23) at fixed membrane strain, Pa.
    tilt : array (n, 2, 3)
        Shear strain per membrane strain at zero transverse shear stress.
    """
    inplane = [0, 1, 5]
    across = [4, 3]
    q = np.linalg.inv(compliance[:, inplane][:, :, inplane])
    coupling = compliance[:, across][:, :, inplane]
    tilt = coupling @ q
    g = np.linalg.inv(compliance[:, across][:, :, across] - tilt @ np.swapaxes(coupling, 1, 2))
    return q, g, tilt


def stiffness(section: Section, frame_axes: Floats, thickness: Floats) -> Stiffness:
    """Stiffness of the section at points; theory (4.3).

    Parameters
    ----------
    section : Section
    frame_axes : array (n, 3, 3)
        Rows e1, e2, normal in space.
    thickness : array (n,)
        m.
    """
    compliance = compliance_in(frame_axes, section.compliance, section.axes)
    q, g, tilt = plane_stress(compliance)
    return over_thickness(q, g, tilt, thickness)


def over_thickness(q: Floats, g: Floats, tilt: Floats, thickness: Floats) -> Stiffness:
    """Stiffness of a layer of given thickness (n,) from what `plane_stress` returns; theory (4.3)."""
    h = thickness[:, None, None]
    return Stiffness(h * q, h**3 / 12.0 * q, SHEAR_FACTOR * h * g, tilt)
