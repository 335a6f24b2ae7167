"""The quintic C1 Argyris triangle with monomials centred and scaled on each triangle.

The library's element uses monomials in global coordinates and inverts one matrix per triangle, which loses
digits away from the origin and on fine meshes. Local monomials keep twelve digits anywhere, and products
instead of powers make the evaluation several times faster.
"""

from typing import Any

import numpy as np
from skfem import ElementTriArgyris, MeshTri
from skfem.assembly import Dofs
from skfem.element import DiscreteField

from platemodel.errors import NeedleError
from platemodel.fem.arrays import Floats, Ints

# Height of a triangle over its longest side below which the shell's equations lose all their digits: at 0.01
# a solution keeps its load to 5e-7, at 0.001 to 3e-3 only, and a rigid motion seems to strain the plate.
FLATTEST = 2e-3

_EXP = np.array([(i, j) for i in range(6) for j in range(6) if i + j <= 5])
_DERIVATIVES = ((0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2))


def _falling(n: Ints, k: int) -> Floats:
    """N (n-1) ... (n-k+1), as floats; zero where k > n."""
    out = np.ones(len(n))
    for i in range(k):
        out = out * np.maximum(n - i, 0)
    return out


def _monomials(x: Floats, y: Floats, dx: int, dy: int) -> Floats:
    """Evaluate derivative (dx, dy) of the 21 monomials at points of any shape: (..., 21)."""
    powers_x = np.ones((6, *x.shape))
    powers_y = np.ones((6, *x.shape))
    for k in range(1, 6):
        powers_x[k] = powers_x[k - 1] * x
        powers_y[k] = powers_y[k - 1] * y
    i, j = _EXP[:, 0], _EXP[:, 1]
    factor = _falling(i, dx) * _falling(j, dy)
    out = powers_x[np.maximum(i - dx, 0)] * powers_y[np.maximum(j - dy, 0)]
    return np.moveaxis(out, 0, -1) * factor


class LocalArgyris(ElementTriArgyris):
    """Argyris element bound to one mesh, with local monomials.

    Parameters
    ----------
    mesh : skfem.MeshTri
        Straight-sided triangles, vertices of each triangle in ascending order (the library's default).

    Raises
    ------
    NeedleError
        A triangle so flat that the equations would lose their digits.

    Notes
    -----
    DOFs at each vertex: u, u_x, u_y, u_xx, u_xy, u_yy; at each edge: derivative along the normal that lies to
    the right of the direction from the lower to the higher vertex number. One instance serves one mesh.
    """

    def __init__(self, mesh: MeshTri) -> None:
        super().__init__()
        self.mesh = mesh
        corners = mesh.p[:, mesh.t]  # (2, 3, nt)
        self.centre = corners.mean(axis=1)
        edges = corners - np.roll(corners, -1, axis=1)
        self.size = np.sqrt((edges**2).sum(axis=0)).max(axis=0)
        self._refuse_needles(edges)
        self._coefficients = np.linalg.inv(self._functionals(corners))

    def _refuse_needles(self, edges: Floats) -> None:
        twice_area = np.abs(edges[0, 0] * edges[1, 1] - edges[1, 0] * edges[0, 1])
        flatness = twice_area / np.maximum(self.size, 1e-300) ** 2
        worst = int(flatness.argmin())
        if not flatness[worst] >= FLATTEST:
            x, y = 1e3 * self.centre[:, worst]
            msg = (
                f"the mesh has a needle-shaped triangle near ({x:.1f}, {y:.1f}) mm: its height is "
                f"{flatness[worst]:.1e} of its longest side, allowed from {FLATTEST}; mesh the plan with "
                "another fineness"
            )
            raise NeedleError(msg, (1e-3 * x, 1e-3 * y))

    def _functionals(self, corners: Floats) -> Floats:
        local = (corners - self.centre[:, None]) / self.size
        nt = corners.shape[2]
        rows = np.empty((nt, 21, 21))
        for v in range(3):
            for d, (dx, dy) in enumerate(_DERIVATIVES):
                value = _monomials(local[0, v], local[1, v], dx, dy)
                rows[:, 6 * v + d] = value / self.size[:, None] ** (dx + dy)
        for e, (p, q) in enumerate(((0, 1), (1, 2), (0, 2))):
            tangent = corners[:, q] - corners[:, p]
            normal = np.stack([tangent[1], -tangent[0]]) / np.hypot(*tangent)
            middle = 0.5 * (local[:, p] + local[:, q])
            gradient = [_monomials(middle[0], middle[1], *d) / self.size[:, None] for d in ((1, 0), (0, 1))]
            rows[:, 18 + e] = normal[0][:, None] * gradient[0] + normal[1][:, None] * gradient[1]
        return rows

    def tabulate(self, points: Floats, elements: Ints) -> Floats:
        """Value and derivatives of the 21 basis functions of given triangles at given points.

        Parameters
        ----------
        points : array (2, n, q)
            Coordinates of q points in each of n triangles, m.
        elements : int array (n,)
            Triangle numbers.

        Returns
        -------
        array (6, n, q, 21)
            u, u_1, u_2, u_11, u_12, u_22.
        """
        size = self.size[elements]
        x = (points[0] - self.centre[0, elements][:, None]) / size[:, None]
        y = (points[1] - self.centre[1, elements][:, None]) / size[:, None]
        coefficients = self._coefficients[elements]
        out = np.empty((6, *x.shape, 21))
        for d, (dx, dy) in enumerate(_DERIVATIVES):
            out[d] = _monomials(x, y, dx, dy) @ coefficients / size[:, None, None] ** (dx + dy)
        return out

    def gbasis(self, mapping: Any, X: Floats, i: int, tind: Ints | None = None) -> tuple[DiscreteField]:
        """One basis function in the form the library's assembly expects (slow path, for its own tools)."""
        tind = np.arange(self.mesh.t.shape[1]) if tind is None else np.asarray(tind)
        u = self.tabulate(mapping.F(X, tind=tind), tind)[..., i]
        return (
            DiscreteField(
                value=u[0], grad=np.stack([u[1], u[2]]), hess=np.array([[u[3], u[4]], [u[4], u[5]]])
            ),
        )


def argyris_dofs(mesh: MeshTri) -> Dofs:
    """DOF numbering of the Argyris element on a mesh, from the library."""
    return Dofs(mesh, ElementTriArgyris())
