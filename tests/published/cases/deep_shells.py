"""Deep shells: the classical obstacle course in statics, and the closed sphere."""

import numpy as np

from platemodel.fem.mesh import MeshTri, rectangle
from platemodel.fem.shell import Shell
from platemodel.fem.supports import edge_rotation, hold, hold_point, point_rows
from platemodel.fem.system import System
from platemodel.wood.orthotropic import Orthotropic
from tests.published.cases.case import Case
from tests.published.cases.models import (
    X,
    Y,
    Z,
    edges,
    mirror,
    plate,
    section,
    uniform_load,
)
from tests.published.cases.surfaces import OCTANT, cylinder, octant, octant_plane, sphere

NEAR = 1e-6


def _roof(cells=6):
    """Scordelis-Lo roof, a quarter of it."""
    radius, length, arc = 25.0, 25.0, 25.0 * np.deg2rad(40)
    concrete = Orthotropic.isotropic(4.32e8, 0.0, 1.0)
    shell = plate(concrete, 0.25, length, arc, cells, cells, surface=cylinder(radius))
    supports = (
        hold(shell, edges(shell, lambda x, y: x < NEAR), [Y, Z]),
        *mirror(shell, edges(shell, lambda x, y: x > length - NEAR), X),
        *mirror(shell, edges(shell, lambda x, y: y < NEAR), Y),
    )
    u = System(shell, (), supports).solve(uniform_load(shell, -90.0))
    return -(point_rows(shell, [[length], [arc]], Z) @ u)


def _pinched_cylinder(cells=12):
    """An eighth of it."""
    radius, length, arc = 300.0, 300.0, 150.0 * np.pi
    shell = plate(
        Orthotropic.isotropic(3e6, 0.3, 1.0), 3.0, length, arc, cells, cells, surface=cylinder(radius)
    )
    supports = (
        hold(shell, edges(shell, lambda x, y: x < NEAR), [Y, Z]),
        *mirror(shell, edges(shell, lambda x, y: x > length - NEAR), X),
        *mirror(shell, edges(shell, lambda x, y: y < NEAR), Y),
        *mirror(shell, edges(shell, lambda x, y: y > arc - NEAR), Z),
    )
    middle = point_rows(shell, [[length], [0.0]], Z)
    return -(middle @ System(shell, (), supports).solve(-0.25 * middle.toarray()[0]))


def _around(points):
    """Direction of the parameter lines, for isotropic shells where a fixed one would meet the normal."""
    return points.r_1


PINCHED = Orthotropic.isotropic(6.825e7, 0.3, 1.0)


def _hemisphere_with_hole(cells=8):
    """A quarter of it; longitude and latitude."""
    radius, quarter, top = 10.0, 5.0 * np.pi, 10.0 * np.deg2rad(72)
    mesh = rectangle(quarter, top, cells, cells)
    shell = Shell(mesh, sphere(radius), section(PINCHED, 0.04, along=_around), shear=False)
    supports = (
        *mirror(shell, edges(shell, lambda x, y: x < NEAR), Y),
        *mirror(shell, edges(shell, lambda x, y: x > quarter - NEAR), X),
        hold_point(shell, (0, 0), [Z]),
    )
    pull = point_rows(shell, [[0.0], [0.0]], X)
    push = point_rows(shell, [[quarter], [0.0]], Y)
    u = System(shell, (), supports).solve((pull - push).toarray()[0])
    return [(pull @ u)[0], -(push @ u)[0]]


def octant_shell(wood, radius, thickness, refinements):
    """Octant of a sphere, thin."""
    mesh = MeshTri(OCTANT.copy(), np.array([[0], [1], [2]])).refined(refinements)
    mesh = MeshTri(mesh.p, np.sort(mesh.t, axis=0))
    return Shell(mesh, octant(radius), section(wood, thickness, along=_around), shear=False)


def plane(shell, axis, symmetric, stiffness):
    """Symmetry or antisymmetry of an octant about a coordinate plane.

    The parameter lines cross the plane obliquely, so a spring keeps the normal from turning.
    """
    facets = edges(shell, lambda x, y: np.abs(octant_plane(x, y)[..., axis]) < NEAR)
    normal = np.eye(3)[axis]
    if symmetric:
        return hold(shell, facets, [normal]), edge_rotation(shell, facets, stiffness)
    return (hold(shell, facets, np.delete(np.eye(3), axis, axis=0)),)


def _closed_hemisphere(refinements=4):
    """A quarter of it."""
    shell = octant_shell(PINCHED, 10.0, 0.04, refinements)
    supports = (*plane(shell, 0, True, 1e6), *plane(shell, 1, True, 1e6))
    corner = np.argmin(np.hypot(*(shell.mesh.p - OCTANT[:, :1])))
    supports += (hold_point(shell, shell.mesh.p[:, corner], [Z]),)
    pull, push = (point_rows(shell, OCTANT[:, [k]] * (1 - 1e-12), d) for k, d in ((0, X), (1, Y)))
    u = System(shell, (), supports).solve((pull - push).toarray()[0])
    return [(pull @ u)[0], -(push @ u)[0]]


STEEL_SPHERE = Orthotropic.isotropic(200e9, 0.3, 7800)


def _closed_sphere(even):
    """Modes of degree 2, 4 .. 10 (symmetric about three planes) or 3, 5 .. 9 (antisymmetric about one)."""
    shell = octant_shell(STEEL_SPHERE, 2.5, 0.1, 3)
    supports = [s for axis in range(3) for s in plane(shell, axis, even or axis > 0, 1e10)]
    system = System(shell, (), tuple(supports))
    if even:
        found = system.modes(15).frequencies
        return found[[0, 2, 5, 9, 14]]
    found = system.modes(15, loose=system.rigid_motions()[:, :1]).frequencies
    return found[[0, 2, 5, 9, 10]]


MACNEAL = "MacNeal & Harder, Finite Elem. Anal. Des. 1, 1985"
HAYEK = "Hayek, J. Acoust. Soc. Am. 40, 1966; values read in code_aster V2.03.007"
ROTARY = "the formula leaves rotary inertia out, which takes 0.8 % off at degree 10"


def torsion_of_sphere(degree):
    """Frequency (Hz) of a thin sphere turning within itself: Love, Theory of Elasticity, art. 335."""
    shear = STEEL_SPHERE.G_LR / STEEL_SPHERE.density
    return np.sqrt(shear * (degree * (degree + 1) - 2)) / (2 * np.pi * 2.5)


SPHERE = "Steel sphere, R = 2.5 m, 0.1 m thick, E = 200 GPa, nu = 0.3, 7800 kg/m3; one octant, thin. "
CASES = (
    Case(
        id="S1",
        title="Scordelis-Lo roof",
        source="Scordelis & Lo, ACI J. 61, 1964; " + MACNEAL,
        status="from memory",
        conditions="R = 25, L = 50, t = 0.25, half-angle 40 degrees, E = 4.32e8, nu = 0, 90 per area; ends "
        "on "
        "diaphragms (u_y = u_z = 0), straight edges free; a quarter. Deflection at the middle of a free "
        "edge.",
        unit="",
        labels=("free edge",),
        published=(0.3024,),
        compute=_roof,
        tolerance=1e-2,
        reason="converged analyses give 0.3006 to 0.3024",
    ),
    Case(
        id="S2",
        title="Pinched cylinder with end diaphragms",
        source="Lindberg, Olson & Cowper, 1969; value and data read in an open finite-element example",
        status="read",
        conditions="R = 300, L = 600, t = 3, E = 3e6, nu = 0.3, two unit forces; an eighth, thin.",
        unit="1e-5",
        labels=("under the force",),
        published=(1.82488,),
        compute=lambda: 1e5 * _pinched_cylinder(),
        tolerance=5e-3,
        reason="12 x 12 cells on a point force",
    ),
    Case(
        id="S3",
        title="Pinched hemisphere with a hole of 18 degrees",
        source=MACNEAL,
        status="from memory",
        conditions="R = 10, t = 0.04, E = 6.825e7, nu = 0.3, forces 2 outwards and inwards; equator free; a "
        "quarter, "
        "thin.",
        unit="",
        labels=("outwards", "inwards"),
        published=(0.0940, 0.0940),
        compute=_hemisphere_with_hole,
        tolerance=1e-2,
        reason="converged analyses give 0.0930 to 0.0935",
    ),
    Case(
        id="S4",
        title="Pinched closed hemisphere",
        source="value and data read in an open finite-element example",
        status="read",
        conditions="As S3 without hole; octant over a flat triangle.",
        unit="",
        labels=("outwards", "inwards"),
        published=(0.0924, 0.0924),
        compute=_closed_hemisphere,
        tolerance=1e-2,
        reason="point forces on 256 triangles",
    ),
    Case(
        id="S13-even",
        title="Closed sphere, even degrees",
        source=HAYEK,
        status="read",
        conditions=SPHERE + "Symmetric about three planes.",
        unit="Hz",
        labels=tuple(f"degree {i}" for i in (2, 4, 6, 8, 10)),
        published=(237.25, 305.24, 346.76, 416.0, 526.20),
        compute=lambda: _closed_sphere(even=True),
        tolerance=1e-2,
        reason=ROTARY,
    ),
    Case(
        id="S13-odd",
        title="Closed sphere, odd degrees and torsion",
        source=HAYEK + "; torsion: Love, A Treatise on the Mathematical Theory of Elasticity, 1927, art. 335",
        status="read",
        conditions=SPHERE + "Antisymmetric about one plane, symmetric about two.",
        unit="Hz",
        labels=("degree 3", "degree 5", "degree 7", "torsion 2", "degree 9"),
        published=(282.85, 324.17, 376.68, torsion_of_sphere(2), 465.75),
        compute=lambda: _closed_sphere(even=False),
        tolerance=1e-2,
        reason=ROTARY,
    ),
)
