"""Plates, edges and loads shared by the cases."""

import numpy as np

from platemodel.fem.mesh import MeshTri, rectangle
from platemodel.fem.section import Section, constant
from platemodel.fem.shell import Shell
from platemodel.fem.supports import boundary_facets, clamp, hold
from platemodel.fem.surface import flat
from platemodel.wood.orthotropic import Orthotropic

X, Y, Z = np.eye(3)
# Sitka spruce by the ratios of the Wood Handbook (from memory), E_L = 1.1 x 10.8 GPa, to three digits.
SPRUCE = Orthotropic(
    "spruce W1", 400, 11.88e9, 0.927e9, 0.511e9, 0.760e9, 0.725e9, 0.0356e9, 0.372, 0.467, 0.435
)
ALUMINIUM = Orthotropic.isotropic(70e9, 0.33, 2700, "aluminium")


def section(wood, thickness, axes=None, along=X):
    """Section of even thickness (m) or of a thickness given as a function."""
    h = thickness if callable(thickness) else constant(thickness)
    return Section(h, wood.compliance(), wood.density, axes, along)


def plate(wood, thickness, length, width, nx, ny, shear=False, surface=None, centred=False, axes=None):
    """Rectangular shell on a structured mesh, thin unless said."""
    origin = (-length / 2, -width / 2) if centred else (0.0, 0.0)
    mesh = rectangle(length, width, nx, ny, origin)
    return Shell(mesh, surface or flat(), section(wood, thickness, axes), shear=shear)


def lines_mesh(x, y):
    """Mesh of a rectangle on given lines."""
    mesh = MeshTri.init_tensor(np.asarray(x), np.asarray(y))
    return MeshTri(mesh.p, np.sort(mesh.t, axis=0))


def edges(shell, where=None):
    """All boundary edges, or those that a condition picks."""
    return boundary_facets(shell.mesh, where)


def sides(shell):
    """Boundary edges of a rectangle: at the ends of the first parameter, and of the second."""
    low, high = shell.mesh.p.min(axis=1), shell.mesh.p.max(axis=1)
    near = 1e-9 * (high - low).max()
    return (
        edges(shell, lambda x, y: (x < low[0] + near) | (x > high[0] - near)),
        edges(shell, lambda x, y: (y < low[1] + near) | (y > high[1] - near)),
    )


def immovable(shell):
    """Hinged edges that cannot move in the plane either."""
    return (hold(shell, edges(shell)),)


def clamped(shell, facets=None):
    """All displacements and the slope held along edges (thin plate)."""
    facets = edges(shell) if facets is None else facets
    return hold(shell, facets), clamp(shell, facets)


def diaphragms(shell):
    """Shear diaphragms: on every edge the deflection and the displacement along the edge are held."""
    ends, flanks = sides(shell)
    return hold(shell, ends, [Y, Z]), hold(shell, flanks, [X, Z])


def mirror(shell, facets, normal):
    """Symmetry about the plane of an edge, if the parameter lines cross it at right angles."""
    others = [d for d in (X, Y, Z) if abs(d @ normal) < 0.5]
    return hold(shell, facets, [normal]), clamp(shell, facets, others)


def uniform_load(shell, pressure, direction=Z):
    """Nodal forces of a pressure (Pa) in a fixed direction: (n_dofs,)."""
    station = shell.quadrature
    rows = np.einsum("c,ncj->nj", direction, station.displacement_rows())[:, None]
    return shell.operator(station, rows).T @ (pressure * shell.area_weights)


def bending_stiffness(E, nu, thickness):
    """D of an isotropic plate, N m."""
    return E * thickness**3 / (12 * (1 - nu**2))


def frequency_number(found, length, thickness, E, nu, density):
    """omega length^2 sqrt(density thickness / D)."""
    root = np.sqrt(density * thickness / bending_stiffness(E, nu, thickness))
    return np.sqrt(found.omega2) * length**2 * root
