"""Supports: exact constraints on boundary vertices, and springs along edges and at points.

A displacement is held along a boundary by its value and tangential derivatives at the vertices only, taken
along the true curve (with its curvature), so that a polygon does not clamp what should be hinged and the
derivatives across the edge stay free.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import ArrayLike
from scipy import sparse
from skfem import MeshTri

from platemodel.fem.arrays import Floats, Ints, Sparse
from platemodel.fem.boundary import named_facets
from platemodel.fem.shell import Shell
from platemodel.fem.station import Station

ALONG = np.eye(3)
EDGE_POINTS = 6  # Gauss points on each edge
CORNER = 0.6  # rad; edges that meet at more than this are two edges, not one smooth curve
_Row = tuple[Ints, Floats]  # numbers of unknowns, and their coefficients
_KERNELS: WeakKeyDictionary["Constraint", Sparse] = WeakKeyDictionary()  # bases of single constraints


@dataclass(frozen=True, eq=False)
class Constraint:
    """Linear conditions C u = 0, each touching few DOFs.

    Attributes
    ----------
    rows : sparse array (m, n_dofs)
    """

    rows: sparse.csr_matrix

    def __repr__(self) -> str:
        return f"Constraint({self.rows.shape[0]} conditions on {self.rows.shape[1]} unknowns)"


@dataclass(frozen=True)
class Spring:
    """Elastic support: adds R' diag(stiffness) R to the stiffness matrix; theory (9.3).

    Attributes
    ----------
    rows : sparse array (m, n_dofs)
        Displacement or rotation at each point.
    stiffness : array (m,)
        N/m or N m/rad at each point (already multiplied by the edge length it stands for).
    """

    rows: sparse.csr_matrix
    stiffness: np.ndarray

    def __post_init__(self) -> None:
        if not np.all(np.isfinite(self.stiffness) & (np.asarray(self.stiffness) >= 0)):
            msg = "a spring's stiffness must be a number of 0 or more, N/m (N m/rad), per metre along an edge"
            raise ValueError(msg)

    def __repr__(self) -> str:
        return f"Spring({self.rows.shape[0]} points, {self.stiffness.sum():.4g} N/m or N m/rad in all)"

    def acting_rows(self) -> Sparse:
        """Rows of the points where it has any stiffness."""
        return self.rows[np.flatnonzero(self.stiffness > 0)]

    def matrix(self) -> Sparse:
        """Stiffness contribution: sparse (n_dofs, n_dofs)."""
        return (self.rows.T @ sparse.diags(self.stiffness) @ self.rows).tocsc()


def boundary_facets(
    mesh: MeshTri, where: Callable[[Floats, Floats], ArrayLike] | str | Sequence[str] | None = None
) -> Ints:
    """Boundary edges: all, those with a name, or those whose midpoint satisfies a condition.

    Parameters
    ----------
    where : callable, str or sequence of str, optional
        ``where(a1, a2)`` returns a boolean array; for names see `platemodel.fem.boundary.named_facets`.

    Raises
    ------
    ValueError
        A name that no edge has.
    """
    if where is None:
        return mesh.boundary_facets()
    if not callable(where):
        return named_facets(mesh, where)
    return mesh.facets_satisfying(lambda p: where(p[0], p[1]), boundaries_only=True)


def hold(shell: Shell, facets: Ints, directions: ArrayLike = ALONG) -> Constraint:
    """Hold displacement components along boundary edges, rotations free (hinge); theory (9.1).

    Parameters
    ----------
    facets : int array
        Boundary edges.
    directions : array (k, 3)
        Unit vectors in space whose displacement is held; default all three.
    """
    rows = []
    for vertex, (t1, t2), curvature in _tangents(shell.mesh, facets):
        n1, n2 = t2, -t1
        conditions = np.array(
            [
                [1, 0, 0, 0, 0, 0],
                [0, t1, t2, 0, 0, 0],
                [0, curvature * n1, curvature * n2, t1 * t1, 2 * t1 * t2, t2 * t2],
            ]
        )
        rows += _vertex_rows(shell, vertex, conditions, directions)
    return Constraint(_stack(rows, shell.n_dofs))


def clamp(shell: Shell, facets: Ints, directions: ArrayLike = ((0.0, 0.0, 1.0),)) -> Constraint:
    """Hold the first derivatives of displacement components along edges as well; theory (9.2).

    Together with `hold` of the same components this is the clamped edge of a thin plate.

    Parameters
    ----------
    facets : int array
    directions : array (k, 3)
        Default: the component along z, for a flat plate.
    """
    rows = []
    for vertex, (t1, t2), _ in _tangents(shell.mesh, facets):
        n1, n2 = t2, -t1
        conditions = np.array([[0, n1, n2, 0, 0, 0], [0, 0, 0, t1 * n1, t1 * n2 + t2 * n1, t2 * n2]])
        rows += _vertex_rows(shell, vertex, conditions, directions)
    for facet in facets:
        dof = shell.facet_dof(facet)
        for d in np.atleast_2d(directions):
            rows.append((dof + shell.n_c1 * np.arange(3), np.asarray(d, dtype=float)))
    return Constraint(_stack(rows, shell.n_dofs))


def edge_rotation(shell: Shell, facets: Ints, stiffness: float) -> Spring:
    """Rotational springs about boundary edges: stiff ones clamp a curved or shear-flexible rim.

    Parameters
    ----------
    facets : int array
    stiffness : float
        N m/rad per metre of edge.
    """
    station, lengths, tangent = edge_station(shell, facets)
    across = np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)
    rows = np.einsum("ni,nij->nj", across, shell.director_rows(station))[:, None]
    return Spring(shell.operator(station, rows), stiffness * lengths)


def edge_spring(shell: Shell, facets: Ints, direction: ArrayLike, stiffness: float) -> Spring:
    """Put translational springs along boundary edges.

    Parameters
    ----------
    facets : int array
    direction : array (3,)
        Unit vector in space.
    stiffness : float
        N/m per metre of edge.
    """
    station, lengths, _ = edge_station(shell, facets)
    rows = np.einsum("c,ncj->nj", np.asarray(direction, dtype=float), station.displacement_rows())[:, None]
    return Spring(shell.operator(station, rows), stiffness * lengths)


def point_spring(shell: Shell, point: ArrayLike, direction: ArrayLike, stiffness: float) -> Spring:
    """One spring at a point of the shell.

    Parameters
    ----------
    point : array (2,)
        Parameters.
    direction : array (3,)
        Unit vector in space.
    stiffness : float
        N/m.
    """
    return Spring(point_rows(shell, np.reshape(point, (2, 1)), direction), np.array([float(stiffness)]))


def point_rows(shell: Shell, points: ArrayLike, direction: ArrayLike) -> Sparse:
    """Rows giving the displacement along a direction at points.

    Parameters
    ----------
    points : array (2, n)
    direction : array (3,)

    Returns
    -------
    sparse array (n, n_dofs)
        Transposed, a unit force along the direction at each point.
    """
    station = shell.locate(points)
    rows = np.einsum("c,ncj->nj", np.asarray(direction, dtype=float), station.displacement_rows())[:, None]
    return shell.operator(station, rows)


def hold_point(shell: Shell, point: ArrayLike, directions: ArrayLike = ALONG) -> Constraint:
    """Hold displacement components at a mesh vertex.

    Parameters
    ----------
    point : array (2,)
        Parameters; the nearest vertex is taken.
    directions : array (k, 3)
    """
    vertex = int(np.argmin(np.hypot(*(shell.mesh.p - np.reshape(point, (2, 1))))))
    return Constraint(_stack(_vertex_rows(shell, vertex, np.eye(6)[:1], directions), shell.n_dofs))


def edge_station(shell: Shell, facets: Ints) -> tuple[Station, Floats, Floats]:
    """Gauss points along boundary edges.

    Returns
    -------
    station : Station
    lengths : array (n,)
        Length of edge in space that each point stands for, m.
    tangent : array (n, 2)
        Unit tangent along the edge in the local frame; (t2, -t1) points outwards.
    """
    mesh = shell.mesh
    facets = np.asarray(facets, dtype=int)
    elements = mesh.f2t[0, facets]
    xi, weight = np.polynomial.legendre.leggauss(EDGE_POINTS)
    xi, weight = 0.5 * (xi + 1.0), 0.5 * weight
    start, stop = mesh.p[:, mesh.facets[0, facets]], mesh.p[:, mesh.facets[1, facets]]
    centre = mesh.p[:, mesh.t[:, elements]].mean(axis=1)
    side = stop - start
    inward = side[0] * (centre - start)[1] - side[1] * (centre - start)[0] < 0
    start, stop = np.where(inward, stop, start), np.where(inward, start, stop)  # interior on the left
    where = start[:, :, None] + (stop - start)[:, :, None] * xi
    station = shell.station(mesh.mapping().invF(where, tind=elements), elements)
    step = np.repeat((stop - start).T, EDGE_POINTS, axis=0)
    along = step[:, :1] * station.surface.r_1 + step[:, 1:] * station.surface.r_2
    length = np.linalg.norm(along, axis=1)
    tangent = np.einsum("nic,nc->ni", station.axes[:, :2], along / length[:, None])
    return station, length * np.tile(weight, len(facets)), tangent


def _tangents(mesh: MeshTri, facets: Ints) -> list[tuple[int, Floats, float]]:
    """Each boundary vertex with each smooth tangent through it and the curvature along that tangent.

    The curvature is signed so that u_tt + curvature * u_n = 0 holds on the curve, n to the right of t.
    """
    neighbours: dict[int, list[int]] = {}
    for facet in np.asarray(facets, dtype=int):
        a, b = mesh.facets[:, facet]
        neighbours.setdefault(a, []).append(b)
        neighbours.setdefault(b, []).append(a)
    out = []
    for vertex, others in neighbours.items():
        rays = [mesh.p[:, other] - mesh.p[:, vertex] for other in others]
        units = [ray / np.hypot(*ray) for ray in rays]
        if len(rays) == 2:
            bend = np.arctan2(
                -units[0][0] * units[1][1] + units[0][1] * units[1][0], -units[0] @ units[1]
            )  # turning from -ray0 into ray1
            if abs(bend) < CORNER:
                lengths = [np.hypot(*ray) for ray in rays]
                # the circle through the three vertices: its tangent weighs each side with the other's length
                tangent = units[1] * lengths[0] - units[0] * lengths[1]
                tangent = tangent / np.hypot(*tangent)
                chord = np.hypot(*(rays[1] - rays[0]))
                curvature = 2.0 * np.sin(bend) / chord if chord > 0 else 0.0
                out.append((vertex, tangent, -curvature))
                continue
        out += [(vertex, unit, 0.0) for unit in units]
    return out


def _vertex_rows(shell: Shell, vertex: int, conditions: Floats, directions: ArrayLike) -> list[_Row]:
    dofs = shell.vertex_dofs(vertex)
    rows = []
    for direction in np.atleast_2d(np.asarray(directions, dtype=float)):
        for condition in conditions:
            columns = (dofs[None] + shell.n_c1 * np.arange(3)[:, None]).ravel()
            values = (direction[:, None] * condition[None]).ravel()
            keep = np.abs(values) > 1e-14
            rows.append((columns[keep], values[keep]))
    return rows


def _stack(rows: Sequence[_Row], n_dofs: int) -> Sparse:
    if not rows:
        return sparse.csr_matrix((0, n_dofs))
    i = np.concatenate([np.full(len(columns), k) for k, (columns, _) in enumerate(rows)])
    j = np.concatenate([columns for columns, _ in rows])
    v = np.concatenate([values for _, values in rows])
    return sparse.csr_matrix((v, (i, j)), shape=(len(rows), n_dofs))


def null_space(constraints: Sequence[Constraint], n_dofs: int) -> Sparse:
    """Basis of the unknowns that satisfy every constraint.

    Returns
    -------
    sparse array (n_dofs, n_free)
        Orthonormal columns; DOFs that no constraint touches keep their own column.

    Notes
    -----
    Conditions that share DOFs are grouped, and each small group is solved by a dense singular value
    decomposition, so that conditions which repeat each other (corners) do no harm. The basis of a single
    constraint is kept as long as that is: a rim is solved on again and again.
    """
    if len(constraints) > 1:
        return _kernel(constraints, n_dofs)
    key = constraints[0]
    if key not in _KERNELS:
        _KERNELS[key] = _kernel(constraints, n_dofs)
    return _KERNELS[key]


def _kernel(constraints: Sequence[Constraint], n_dofs: int) -> Sparse:
    rows = sparse.vstack([c.rows for c in constraints]).tocsr()
    rows.eliminate_zeros()
    scale = np.sqrt(np.maximum(np.asarray(rows.multiply(rows).sum(axis=0)).ravel(), 1e-300))
    _, label = sparse.csgraph.connected_components(abs(rows).T @ abs(rows), directed=False)
    touched = np.zeros(n_dofs, dtype=bool)
    touched[rows.indices] = True
    free = np.flatnonzero(~touched)
    i, j, v = [free], [np.arange(len(free))], [np.ones(len(free))]
    column = len(free)
    held = np.flatnonzero(touched)
    held = held[np.argsort(label[held], kind="stable")]
    groups = np.split(held, np.flatnonzero(np.diff(label[held])) + 1)
    row_label = label[rows.indices[rows.indptr[:-1]]] if rows.shape[0] else np.array([])
    dense, first = (rows[:, held] @ sparse.diags(1.0 / scale[held])).toarray(), 0
    for group in groups:
        columns = slice(first, first + len(group))
        first += len(group)
        block = dense[row_label == label[group[0]], columns]
        _, singular, vt = np.linalg.svd(block)
        rank = int((singular > 1e-9 * singular[0]).sum())
        kernel = vt[rank:].T / scale[group][:, None]
        if kernel.shape[1] == 0:
            continue
        i.append(np.repeat(group, kernel.shape[1]))
        j.append(np.tile(column + np.arange(kernel.shape[1]), len(group)))
        v.append(kernel.ravel())
        column += kernel.shape[1]
    return sparse.csc_matrix(
        (np.concatenate(v), (np.concatenate(i), np.concatenate(j))), shape=(n_dofs, column)
    )


def ground(shell: Shell) -> Spring:
    """Springs that hold a body at three vertices, just enough: all directions, two, one.

    Loads that balance put no force into them.
    """
    p = shell.mesh.p
    first = int(np.argmin(p[0]))
    second = int(np.argmax(np.hypot(*(p - p[:, [first]]))))
    along = p[:, second] - p[:, first]
    off = along[0] * (p[1] - p[1, first]) - along[1] * (p[0] - p[0, first])
    third = int(np.argmax(np.abs(off)))
    square = np.array([-along[1], along[0], 0.0]) / np.hypot(*along)
    held = [(first, axis) for axis in np.eye(3)] + [(second, square), (second, np.eye(3)[2])]
    held.append((third, np.eye(3)[2]))
    rows = np.zeros((6, shell.n_dofs))
    for row, (vertex, axis) in zip(rows, held, strict=True):
        row[shell.vertex_dofs(vertex)[0] + shell.n_c1 * np.arange(3)] = axis
    stiffness = shell.reference_stiffness / shell.area
    return Spring(sparse.csr_matrix(rows), np.full(6, stiffness))
