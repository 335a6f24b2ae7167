"""Thin shell on a parametrised midsurface with a hierarchic transverse-shear field.

Unknowns: the three Cartesian displacement components of the midsurface, each in the Argyris space, and the
two covariant components of the transverse shear strain s in continuous quadratics. The displacement at
distance z from the midsurface is u_a(z) = u_a - z (n . u,a - s_a); s = 0 is the thin (Koiter) shell.
"""

from collections.abc import Callable
from copy import copy
from dataclasses import replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike
from scipy import sparse
from skfem import MeshTri
from skfem.assembly import Dofs
from skfem.element import ElementTriP2
from skfem.quadrature import get_quadrature
from skfem.refdom import RefTri

from platemodel.errors import GeometryError
from platemodel.fem.argyris import LocalArgyris, argyris_dofs
from platemodel.fem.arrays import Floats, Ints, Sparse
from platemodel.fem.scatter import Scatter, Space
from platemodel.fem.section import Section, Stiffness, stiffness
from platemodel.fem.station import Station
from platemodel.fem.surface import Surface, SurfacePoints

# Degree the quadrature integrates exactly; 10 changes the frequencies of the demo tops by 5e-5 at most.
ORDER = 8
# Of a triangle's height: how far outside a triangle a point on its side may come out.
ROUND_OFF = 1e-9


class Shell:
    """A shell: mesh, midsurface and section, with its stiffness and mass matrices.

    Parameters
    ----------
    mesh : skfem.MeshTri
        In the parameter plane.
    shear : bool
        Include the transverse-shear field; False gives the thin shell.
    order : int
        Quadrature order.
    """

    def __init__(
        self, mesh: MeshTri, surface: Surface, section: Section, shear: bool = True, order: int = ORDER
    ) -> None:
        self.mesh = mesh
        self.surface = surface
        self.section = section
        self.shear = shear
        self.element = LocalArgyris(mesh)
        c1 = argyris_dofs(mesh)
        self.n_c1 = c1.N
        self._c1_dofs = c1.element_dofs
        self._c1_vertex_dofs = c1.nodal_dofs
        self._c1_facet_dofs = c1.facet_dofs
        self._p2_element = ElementTriP2()
        p2 = Dofs(mesh, self._p2_element)
        self.n_p2 = p2.N if shear else 0
        self._p2_dofs = p2.element_dofs
        self.n_dofs = 3 * self.n_c1 + 2 * self.n_p2
        self._geometry = self._interpolate()
        self._place(order)
        self._weigh_and_stiffen()

    def __repr__(self) -> str:
        theory = "with transverse shear" if self.shear else "thin"
        vertices = self.surface(*self.mesh.p).r
        size = " x ".join(f"{1e3 * v:.4g}" for v in np.ptp(vertices, axis=0))
        return (
            f"Shell({theory}, {self.mesh.t.shape[1]} triangles, {self.n_dofs} unknowns, {size} mm, "
            f"{1e3 * self.thickness.min():.3g} to {1e3 * self.thickness.max():.3g} mm thick, "
            f"{1e3 * self.mass:.4g} g)"
        )

    @cached_property
    def half_size(self) -> float:
        """Half the largest extent in space, m."""
        return 0.5 * float(np.ptp(self.quadrature.surface.r, axis=0).max())

    @cached_property
    def is_flat(self) -> bool:
        """Whether it lies in a plane z = constant."""
        return float(np.ptp(self.quadrature.surface.r[:, 2])) < 1e-9 * self.half_size

    def _interpolate(self) -> Floats:
        """Interpolate the midsurface in the Argyris space, which then holds rigid motions: (n_c1, 3)."""

        def position(a1: Floats, a2: Floats) -> Floats:
            at = self.surface(a1, a2)
            return np.stack([at.r, at.r_1, at.r_2, at.r_11, at.r_12, at.r_22])

        return self.interpolate(position)

    def interpolate(self, evaluate: Callable[[Floats, Floats], Floats]) -> Floats:
        """Coefficients in the Argyris space of functions over the parameter plane.

        Parameters
        ----------
        evaluate : callable
            ``evaluate(a1, a2)`` returns an array (6, n, m): m functions, derivatives 1, 2, 11, 12, 22.

        Returns
        -------
        array (n_c1, m)
        """
        mesh = self.mesh
        at = evaluate(*mesh.p)
        out = np.empty((self.n_c1, at.shape[2]))
        for dofs, value in zip(self._c1_vertex_dofs, at, strict=True):
            out[dofs] = value
        start, stop = mesh.p[:, mesh.facets[0]], mesh.p[:, mesh.facets[1]]
        at = evaluate(*(0.5 * (start + stop)))
        side = (stop - start) / np.hypot(*(stop - start))
        out[self._c1_facet_dofs[0]] = side[1][:, None] * at[1] - side[0][:, None] * at[2]
        return out

    def c1_dofs(self, elements: Ints) -> Ints:
        """Numbers of the 21 Argyris unknowns of triangles, first component: (n, 21)."""
        return self._c1_dofs[:, elements].T

    def interpolated_geometry(self) -> tuple[Floats, Floats]:
        """Coefficients in the Argyris space of the constant 1, (n_c1,), and of the position, (n_c1, 3)."""
        one = np.zeros(self.n_c1)
        one[self._c1_vertex_dofs[0]] = 1.0
        return one, self._geometry

    @cached_property
    def element_dofs(self) -> Ints:
        """Global DOF numbers of each triangle: (nt, 63) or (nt, 75), components first, then s_1, s_2."""
        blocks = [self._c1_dofs + c * self.n_c1 for c in range(3)]
        if self.shear:
            blocks += [self._p2_dofs + 3 * self.n_c1 + a * self.n_p2 for a in range(2)]
        return np.concatenate(blocks).T

    def vertex_dofs(self, vertex: int) -> Ints:
        """DOFs u, u_1, u_2, u_11, u_12, u_22 of the first component at a mesh vertex: (6,)."""
        return self._c1_vertex_dofs[:, vertex]

    def facet_dof(self, facet: int) -> int:
        """DOF of the first component's normal derivative at the middle of an edge."""
        return int(self._c1_facet_dofs[0, facet])

    def station(self, reference: Floats, elements: Ints, direction: ArrayLike | None = None) -> Station:
        """Evaluate basis and geometry.

        Parameters
        ----------
        reference : array (2, n, q)
            Points in the reference triangle.
        elements : int array (n,)
        direction : array (3,), optional
            First axis of the local frame; default the section's.

        Returns
        -------
        Station
            n q points, the q points of a triangle together.
        """
        mapping = self.mesh.mapping()
        points = mapping.F(reference, tind=elements)
        q = points.shape[2]
        c1 = self.element.tabulate(points, elements).reshape(6, -1, 21)
        p2 = np.empty((3, *points.shape[1:], 6))
        for i in range(6 if self.shear else 0):
            field = self._p2_element.gbasis(mapping, reference, i, tind=elements)[0]
            p2[0, ..., i] = np.broadcast_to(np.asarray(field), points.shape[1:])
            p2[1, ..., i], p2[2, ..., i] = field.grad
        flat = points.reshape(2, -1)
        nodal = self._geometry[self._c1_dofs[:, elements].T]  # (n, 21, 3)
        surface = SurfacePoints(*(c1.reshape(6, -1, q, 21) @ nodal).reshape(6, -1, 3))
        axes, contravariant = surface.frame(
            self.section.direction(surface) if direction is None else direction
        )
        return Station(flat, np.repeat(elements, q), c1, p2.reshape(3, -1, 6), surface, axes, contravariant)

    def locate(self, points: ArrayLike) -> Station:
        """Evaluate at given parameters.

        Parameters
        ----------
        points : array (2, n)

        Raises
        ------
        GeometryError
            A point lies outside the mesh.
        """
        points = np.asarray(points, dtype=float)
        elements = self.triangles(points)
        reference = self.mesh.mapping().invF(points[:, :, None], tind=elements)
        return self.station(reference, elements)

    def triangles(self, points: Floats) -> Ints:
        """Triangle that holds each of the points (2, n).

        Raises
        ------
        GeometryError
            A point lies outside the mesh.
        """
        try:
            return self._finder(*points)
        except ValueError:  # on a side that two triangles share, round-off may put a point outside both
            every = np.arange(self.mesh.t.shape[1])
            x, y = self.mesh.mapping().invF(np.asarray(points)[:, None], every)
            inside = np.minimum(np.minimum(x, y), 1.0 - x - y)
            if inside.max(axis=0).min() < -ROUND_OFF:
                msg = "a point lies outside the plate or in a hole; points span " + ", ".join(
                    f"a{i + 1} {1e3 * p.min():.1f} to {1e3 * p.max():.1f} mm" for i, p in enumerate(points)
                )
                raise GeometryError(msg) from None
            return inside.argmax(axis=0)

    @cached_property
    def _finder(self) -> Callable[..., Ints]:
        return self.mesh.element_finder()

    def _place(self, order: int) -> None:
        """Lay out the quadrature points."""
        reference, weights = get_quadrature(RefTri, order)
        nt, q = self.mesh.t.shape[1], len(weights)
        elements = np.arange(nt)
        station = self.station(np.broadcast_to(reference[:, None], (2, nt, q)), elements)
        jacobian = np.abs(self.mesh.mapping().detDF(reference, tind=elements))
        area = (jacobian * weights).ravel() * station.surface.area
        thickness = np.asarray(self.section.thickness(*station.points), dtype=float)
        if np.any(thickness <= 0) or not np.all(np.isfinite(thickness)):
            msg = f"thickness must be positive everywhere; smallest value {np.nanmin(thickness):.3g} m"
            raise ValueError(msg)
        self.quadrature = station
        self.area_weights = area
        self.thickness = thickness
        self.area = float(area.sum())
        self.centre = area @ station.surface.r / self.area

    def sampled(self, order: int) -> "Shell":
        """Return the same shell, matrices and all, with the quadrature points of another order."""
        out = copy(self)
        out._place(order)
        return out

    def _weigh_and_stiffen(self) -> None:
        """Matrices of the present section on the quadrature points."""
        station, area, thickness = self.quadrature, self.area_weights, self.thickness
        stiff = stiffness(self.section, station.axes, thickness)
        self.reference_stiffness = np.average(
            np.sqrt(stiff.bending[:, 0, 0] * stiff.bending[:, 1, 1]), weights=area
        )
        self.mass = float((area * thickness).sum() * self.section.density)
        self.K = self._scatter.sum(self._stiffness_blocks(station, stiff, area))
        self.M = self._scatter.sum(self._mass_blocks(station, thickness, area))

    def with_material(self, compliance: Floats, density: float) -> "Shell":
        """Return the same shell of another material with the same axes; the mesh and the geometry are shared.

        Parameters
        ----------
        compliance : array (6, 6)
            Engineering compliance in material axes, 1/Pa.
        density : float
            kg/m3.
        """
        out = copy(self)
        out.section = replace(self.section, compliance=compliance, density=density)
        out._weigh_and_stiffen()
        return out

    def _stiffness_blocks(self, station: Station, stiff: Stiffness, area: Floats) -> Floats:
        """Stiffness of the triangles, theory (5.1): (nt, columns, columns)."""
        nt = self.mesh.t.shape[1]
        n = len(area)
        columns = 75 if self.shear else 63
        rows = np.zeros((n, 8 if self.shear else 6, columns))
        # upper Cholesky factors turn B' D B into (U B)'(U B)
        root = np.sqrt(area)[:, None, None]
        membrane = np.swapaxes(np.linalg.cholesky(stiff.membrane), 1, 2) * root
        bending = np.swapaxes(np.linalg.cholesky(stiff.bending), 1, 2) * root
        strain = station.membrane_rows()
        rows[:, :3, :63] = membrane @ strain
        rows[:, 3:6, :63] = bending @ station.curvature_rows()
        if self.shear:
            rows[:, 3:6, 63:] = -bending @ station.shear_gradient_rows()
            shear = np.swapaxes(np.linalg.cholesky(stiff.shear), 1, 2) * root
            rows[:, 6:, :63] = -(shear @ stiff.tilt) @ strain
            rows[:, 6:, 63:] = shear @ station.shear_rows()
        rows = rows.reshape(nt, -1, columns)
        return np.swapaxes(rows, 1, 2) @ rows

    def _mass_blocks(self, station: Station, thickness: Floats, area: Floats) -> Floats:
        """Mass of the triangles, theory (5.2): (nt, columns, columns)."""
        nt = self.mesh.t.shape[1]
        columns = 75 if self.shear else 63
        value = (station.c1[0] * np.sqrt(self.section.density * thickness * area)[:, None]).reshape(
            nt, -1, 21
        )
        scalar = np.swapaxes(value, 1, 2) @ value
        slope = np.zeros((len(area), 2, columns))
        root = np.sqrt(self.section.density * thickness**3 / 12.0 * area)[:, None, None]
        slope[:, :, :63] = root * station.slope_rows()
        if self.shear:
            slope[:, :, 63:] = -root * station.shear_rows()
        slope = slope.reshape(nt, -1, columns)
        out = np.swapaxes(slope, 1, 2) @ slope
        for c in range(3):
            out[:, 21 * c : 21 * (c + 1), 21 * c : 21 * (c + 1)] += scalar
        return out

    @cached_property
    def _scatter(self) -> Scatter:
        spaces = [Space(self._c1_dofs.T, self.n_c1, 3)]
        if self.shear:
            spaces.append(Space(self._p2_dofs.T, self.n_p2, 2))
        return Scatter(spaces)

    def operator(self, station: Station, rows: Floats) -> Sparse:
        """Sparse operator from element-wise rows.

        Parameters
        ----------
        station : Station
            n points.
        rows : array (n, m, 63) or (n, m, 75)

        Returns
        -------
        sparse array (n m, n_dofs)
        """
        n, m, columns = rows.shape
        dofs = self.element_dofs[station.elements][:, :columns]
        i = np.broadcast_to(np.arange(n * m).reshape(n, m, 1), rows.shape)
        j = np.broadcast_to(dofs[:, None], rows.shape)
        return sparse.csr_matrix((rows.ravel(), (i.ravel(), j.ravel())), shape=(n * m, self.n_dofs))

    def director_rows(self, station: Station) -> Floats:
        """Rows giving the rotation of the normal, n . D_i u - s_i: (n, 2, columns)."""
        rows = station.slope_rows()
        if not self.shear:
            return rows
        return np.concatenate([rows, -station.shear_rows()], axis=2)

    def bending_rows(self, station: Station) -> Floats:
        """Rows giving the curvature of bending, k - sym(grad s): (n, 3, columns)."""
        rows = station.curvature_rows()
        if not self.shear:
            return rows
        return np.concatenate([rows, -station.shear_gradient_rows()], axis=2)
