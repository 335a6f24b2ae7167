"""Isotropic plates."""

import numpy as np

from platemodel.fem.mesh import Fineness, Loop, mesh_plan
from platemodel.fem.shell import Shell
from platemodel.fem.supports import Spring, edge_station, hold, point_rows
from platemodel.fem.surface import flat
from platemodel.fem.system import System
from platemodel.wood.orthotropic import Orthotropic
from tests.published.cases.case import Case, modes
from tests.published.cases.models import (
    X,
    Y,
    Z,
    bending_stiffness,
    clamped,
    edges,
    frequency_number,
    immovable,
    plate,
    section,
    uniform_load,
)

E, NU, DENSITY, SIDE, THIN = 200e9, 0.3, 8000.0, 10.0, 0.05  # material and plate of NAFEMS FV12
STEEL = Orthotropic.isotropic(E, NU, DENSITY)
SQUARE = "Square plate, side a, h/a = 1/200, nu = 0.3, thin; values omega a^2 sqrt(rho h/D). "
NO_SHEAR = "four cells to a side; rotary inertia takes up to 0.02 % off"


def _square(cells, thickness=THIN, shear=False):
    return plate(STEEL, thickness, SIDE, SIDE, cells, cells, shear)


def _numbers(cells, count, supports):
    shell = _square(cells)
    found = System(shell, (), supports(shell)).modes(count)
    return frequency_number(found, SIDE, THIN, E, NU, DENSITY)


def _cantilever(shell):
    return clamped(shell, edges(shell, lambda x, y: x < 1e-9))


def circle(radius, size, turn):
    """Mesh of a disc whose polygon keeps the disc's area."""
    angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    points = radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return mesh_plan(Loop(points, np.array([], dtype=int)), (), Fineness(size, size, turn))


def _free_disc(nu):
    wood = Orthotropic.isotropic(E, nu, DENSITY)
    shell = Shell(circle(1.0, 0.4, 0.3), flat(), section(wood, 0.005), shear=False)
    return frequency_number(System(shell).modes(18), 1.0, 0.005, E, nu, DENSITY)[:14]


DISC = ("2,0", "2,0", "0,1", "3,0", "3,0", "1,1", "1,1", "4,0", "4,0", "5,0", "5,0", "2,1", "2,1", "0,2")


def _pairs(*values):
    """Repeat the values of modes that come in pairs (every one but those without nodal diameter)."""
    repeat = (2, 1, 2, 2, 2, 2, 2, 1)
    return tuple(np.repeat(values, repeat))


def _thick():
    """Frequencies of bending modes of the thick plate on hard edges, the in-plane ones dropped, Hz."""
    shell = _square(6, 1.0, shear=True)
    station, lengths, tangent = edge_station(shell, edges(shell))
    rows = np.einsum("ni,nij->nj", tangent, shell.director_rows(station))[:, None]
    stiff = Spring(shell.operator(station, rows), 1e13 * lengths)
    found = System(shell, (), (hold(shell, edges(shell)), stiff)).modes(16)
    station = shell.quadrature
    motion = shell.operator(station, station.displacement_rows()) @ found.vectors[: shell.n_dofs]
    size = (motion.reshape(-1, 3, 16) ** 2).sum(axis=0)
    return found.frequencies[size[2] > size[:2].sum(axis=0)][:8]


def mindlin(m, n, thickness=1.0):
    """Supported Mindlin plate (hard edges), Hz: the quadratic in omega^2 of Mindlin 1951 with k = 5/6."""
    D, give = bending_stiffness(E, NU, thickness), 5 / 6 * E / (2 * (1 + NU)) * thickness
    line, turn = DENSITY * thickness, DENSITY * thickness**3 / 12
    q = np.pi**2 * (m**2 + n**2) / SIDE**2
    terms = [line * turn, -(give * q * turn + line * (D * q + give)), give * D * q**2]
    return np.sqrt(np.roots(terms).min()) / (2 * np.pi)


HARMONICS = ((1, 1), (1, 2), (2, 1), (2, 2), (1, 3), (3, 1), (2, 3), (3, 2))


def _statics(cells, supports):
    """Middle deflection under a pressure, over q a^4/D, and under a point force, over P a^2/D."""
    shell = _square(cells)
    middle = point_rows(shell, [[SIDE / 2], [SIDE / 2]], Z)
    loads = np.stack([uniform_load(shell, 1.0), middle.toarray()[0]], axis=1)
    w = (middle @ System(shell, (), supports(shell)).solve(loads))[0]
    return w * bending_stiffness(E, NU, THIN) / np.array([SIDE**4, SIDE**2])


def disc_deflection(size, turn, fixed):
    """Middle deflection of a disc under a pressure, over q R^4 / 64 D."""
    shell = Shell(circle(1.0, size, turn), flat(), section(STEEL, 0.005), shear=False)
    rim = edges(shell)
    supports = clamped(shell) if fixed else (hold(shell, rim, [X, Y, Z]),)
    w = System(shell, (), supports).solve(uniform_load(shell, 1.0))
    return (point_rows(shell, [[0.0], [0.0]], Z) @ w)[0] * 64 * bending_stiffness(E, NU, 0.005)


FV12 = "NAFEMS, The Standard NAFEMS Benchmarks, 1990, test FV12"
TIMOSHENKO = "Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 1959, "
CASES = (
    Case(
        id="P1",
        title="Free square plate",
        source="accurate thin-plate values; Leissa, J. Sound Vib. 31, 1973, has 13.489, 19.789, 24.432, "
        "35.024 as "
        "upper bounds",
        status="computed independently",
        conditions=SQUARE + "All edges free.",
        unit="",
        labels=modes(10),
        published=(13.468, 19.596, 24.270, 34.801, 34.801, 61.093, 61.093, 63.687, 69.265, 77.17),
        compute=lambda: _numbers(4, 10, lambda s: ()),
        tolerance=1e-3,
        reason=NO_SHEAR,
    ),
    Case(
        id="P2",
        title="Simply supported square plate",
        source="Navier: pi^2 (m^2 + n^2)",
        status="closed form",
        conditions=SQUARE + "Edges w = u = v = 0, rotation free.",
        unit="",
        labels=tuple(f"{m},{n}" for m, n in HARMONICS),
        published=tuple(np.pi**2 * (m * m + n * n) for m, n in HARMONICS),
        compute=lambda: _numbers(4, 8, immovable),
        tolerance=1e-3,
        reason=NO_SHEAR,
    ),
    Case(
        id="P3",
        title="Clamped square plate",
        source="Leissa, NASA SP-160, 1969, has 35.992, 73.413, 108.27, 131.64, 132.24; accurate values used",
        status="computed independently",
        conditions=SQUARE + "Edges w = u = v = 0 and slope 0.",
        unit="",
        labels=modes(8),
        published=(35.985, 73.394, 73.394, 108.22, 131.58, 132.20, 165.00, 165.00),
        compute=lambda: _numbers(6, 8, clamped),
        tolerance=1e-3,
        reason="six cells to a side, because the slope is held at the edge",
    ),
    Case(
        id="P4",
        title="Cantilever square plate",
        source="Leissa, J. Sound Vib. 31, 1973, has 3.4917, 8.5246, 21.429, 27.331, 31.111, 54.443; "
        "accurate values "
        "used",
        status="computed independently",
        conditions=SQUARE + "One edge clamped, three free.",
        unit="",
        labels=modes(6),
        published=(3.471, 8.506, 21.285, 27.199, 30.956, 54.185),
        compute=lambda: _numbers(6, 6, _cantilever),
        tolerance=1e-3,
        reason="the stress is singular at the clamped corners, so convergence is slower than elsewhere",
    ),
    *(
        Case(
            id=f"P5-{nu}",
            title=f"Free circular plate, nu = {nu}",
            source="Itao & Crandall, J. Appl. Mech. 46, 1979 (from memory); roots of the Bessel determinant",
            status="closed form",
            conditions="59 straight-sided triangles, 21 sides that keep the disc's area; values omega R^2 "
            "sqrt(rho h/D); labels are nodal diameters, circles.",
            unit="",
            labels=DISC,
            published=_pairs(*values),
            compute=lambda nu=nu: _free_disc(nu),
            tolerance=1e-3,
            reason="the polygon itself costs 0.02 to 0.06 % with 21 sides",
        )
        for nu, values in (
            (0.3, (5.3583, 9.0031, 12.439, 20.475, 21.835, 33.495, 35.260, 38.443)),
            (0.33, (5.2620, 9.0689, 12.244, 20.513, 21.527, 33.062, 35.243, 38.507)),
        )
    ),
    Case(
        id="P6",
        title="Free square plate FV12",
        source=FV12 + "; its targets 4.233 and 7.416 are not converged, the thin-plate values are used",
        status="read",
        conditions="10 x 10 x 0.05 m, E = 200 GPa, nu = 0.3, 8000 kg/m3, all free; thin.",
        unit="Hz",
        labels=modes(8),
        published=(1.622, 2.360, 2.922, 4.190, 4.190, 7.356, 7.356, 7.668),
        compute=lambda: System(_square(4)).modes(8).frequencies,
        tolerance=1e-3,
        reason=NO_SHEAR,
    ),
    Case(
        id="P8",
        title="Thick supported square plate FV52",
        source="NAFEMS, The Standard NAFEMS Benchmarks, 1990, test FV52, read in two test manuals",
        status="read",
        conditions="10 x 10 x 1 m, material of P6, with shear; hard edges: w = u = v = 0 and the normal may "
        "not turn "
        "along the edge. In-plane modes dropped.",
        unit="Hz",
        labels=tuple(f"{m},{n}" for m, n in HARMONICS),
        published=(45.897, 109.44, 109.44, 167.89, 204.51, 204.51, 256.50, 256.50),
        compute=_thick,
        tolerance=5e-3,
        reason="quadratic shear field on six cells; the target itself is 0.03 to 0.16 % below Mindlin's "
        "formula",
    ),
    Case(
        id="P8-mindlin",
        title="The same plate against Mindlin's formula",
        source="Mindlin, J. Appl. Mech. 18, 1951, with k = 5/6",
        status="closed form",
        conditions="As P8.",
        unit="Hz",
        labels=tuple(f"{m},{n}" for m, n in HARMONICS),
        published=tuple(mindlin(m, n) for m, n in HARMONICS),
        compute=_thick,
        tolerance=1e-3,
        reason="quadratic shear field on six cells",
    ),
    Case(
        id="P9-supported",
        title="Supported square plate, middle deflection",
        source=TIMOSHENKO + "Tables 8 and 23",
        status="from memory",
        conditions="Edges w = u = v = 0, rotation free; over q a^4/D and P a^2/D.",
        unit="",
        labels=("pressure", "point force"),
        published=(0.00406235, 0.0116008),
        compute=lambda: _statics(8, immovable),
        tolerance=1e-3,
        reason="eight cells to a side, for the point force's singular curvature",
    ),
    Case(
        id="P9-clamped",
        title="Clamped square plate, middle deflection",
        source=TIMOSHENKO + "Table 35",
        status="from memory",
        conditions="Edges w = u = v = 0 and slope 0; over q a^4/D and P a^2/D.",
        unit="",
        labels=("pressure", "point force"),
        published=(0.00126532, 0.005612),
        compute=lambda: _statics(10, clamped),
        tolerance=1e-3,
        reason="ten cells to a side, for the point force's singular curvature",
    ),
    Case(
        id="P9-disc",
        title="Circular plate under pressure, middle deflection",
        source=TIMOSHENKO + "art. 16",
        status="closed form",
        conditions="nu = 0.3, over q R^4 / 64 D; hinged (5 + nu)/(1 + nu), clamped 1; 50 sides.",
        unit="",
        labels=("hinged", "clamped"),
        published=((5 + NU) / (1 + NU), 1.0),
        compute=lambda: [disc_deflection(0.25, 0.126, fixed) for fixed in (False, True)],
        tolerance=1e-2,
        reason="the support follows the polygon's corners, which lie 0.13 % outside the circle, and the "
        "deflection "
        "goes with R^4; falls with the square of the sides' length",
    ),
)
