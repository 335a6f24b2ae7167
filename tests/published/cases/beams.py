"""Beams: the rib alone, the T-strip, and the torsion of rectangles."""

import numpy as np
from scipy.optimize import brentq

from platemodel.fem.supports import point_rows
from platemodel.fem.system import System
from platemodel.fem.t_section import rectangle_torsion as section_torsion
from platemodel.wood.orthotropic import Orthotropic
from tests.published.cases.case import RITZ, Case, modes
from tests.published.cases.lone_rib import lone_rib
from tests.published.cases.models import ALUMINIUM, Z
from tests.published.cases.ribs import glued, line_joined, ribbed_shell

STEEL = Orthotropic.isotropic(210e9, 0.3, 7850)


def _slender(ends, rigid, count):
    """(kL)^2 of a rib 5 x 5 mm, 1 m long, without shear."""
    side, length = 0.005, 1.0
    found = lone_rib(STEEL, side, side, length, ends, shear=False)[rigid : rigid + count]
    return 2 * np.pi * found * length**2 * np.sqrt(12 * STEEL.density / STEEL.E_L) / side


def _deep():
    """Bending modes of the NAFEMS beam; the fourth root is its axial one."""
    steel = Orthotropic.isotropic(200e9, 0.3, 8000)
    return lone_rib(steel, 2.0, 2.0, 10.0, "supported")[[1, 2, 4]]


def _supported(shear):
    return lone_rib(STEEL, 0.05, 0.10, 1.0, "supported", shear)[1:4]


def timoshenko(length, width, height, wood, k, count):
    """Exact frequencies of a simply supported Timoshenko beam, Hz; k = inf leaves shear out."""
    area, inertia = width * height, width * height**3 / 12
    G = wood.G_LT
    out = []
    for n in range(1, count + 1):
        q = (n * np.pi / length) ** 2
        bend, turn = wood.E_L * inertia * q, wood.density * inertia
        line = wood.density * area
        if np.isinf(k):
            out.append(np.sqrt(bend * q / (line + turn * q)) / (2 * np.pi))
            continue
        give = k * G * area

        def determinant(w2, q=q, bend=bend, turn=turn, line=line, give=give):
            return (give * q - line * w2) * (bend + give - turn * w2) - give**2 * q

        out.append(np.sqrt(brentq(determinant, 0.0, bend * q / line)) / (2 * np.pi))
    return tuple(out)


RAYLEIGH = timoshenko(1.0, 0.05, 0.10, STEEL, np.inf, 3)
BETA = {1: 0.14058, 1.5: 0.19576, 2: 0.22868, 3: 0.26332, 4: 0.28081, 5: 0.29132, 10: 0.31233}


def _rectangles():
    """Beta of J = beta b t^3, from the flange alone of the T-section problem."""
    out = []
    for ratio in BETA:
        t, G = 1e-3, 1e9
        out.append(section_torsion(ratio * t, t, (G, G)) / (G * ratio * t * t**3))
    return out


def _strip(rib_of):
    """First three modes of the strip that bend it upright, Hz."""
    x, y = np.linspace(0.0, 0.5, 13), np.array([0.0, 0.007, 0.013, 0.02])
    shell = ribbed_shell(ALUMINIUM, 0.003, x, y)
    ribs = rib_of(shell, ALUMINIUM, (0.0, 0.01), (0.5, 0.01), 0.006, 0.012)
    ribs = ribs if isinstance(ribs, tuple) else (ribs,)
    found = System(shell, ribs).modes(10)
    upright = [k for k in range(10) if _moves_upright(shell, found.vectors[:, k])]
    return found.frequencies[upright[:3]]


def _moves_upright(shell, vector):
    """True where the middle line moves along z: neither torsion nor sideways bending."""
    x = np.linspace(0.01, 0.49, 40)
    middle = point_rows(shell, np.stack([x, np.full(40, 0.01)]), Z) @ vector[: shell.n_dofs]
    station = shell.quadrature
    motion = shell.operator(station, station.displacement_rows()) @ vector[: shell.n_dofs]
    return (middle**2).mean() > 0.3 * shell.area_weights @ (motion.reshape(-1, 3) ** 2).sum(1) / shell.area


CASES = (
    Case(
        id="B1",
        title="Free-free beam",
        source="Blevins, Formulas for Natural Frequency and Mode Shape, 1979, Table 8-1; roots of cos cosh "
        "= 1",
        status="closed form",
        conditions="Rib alone, 5 x 5 mm, 1 m, shear left out; values (kL)^2.",
        unit="",
        labels=modes(5),
        published=(22.37329, 61.67282, 120.90339, 199.85945, 298.55554),
        compute=lambda: _slender("free", 3, 5),
        tolerance=1e-3,
        reason="the rib keeps its rotary inertia, which takes 0.04 % off mode 5 at h/L = 1/200",
    ),
    Case(
        id="B2",
        title="Cantilever",
        source="Blevins, 1979, Table 8-1; roots of cos cosh = -1",
        status="closed form",
        conditions="Rib alone, 5 x 5 mm, 1 m, shear left out; values (kL)^2.",
        unit="",
        labels=modes(5),
        published=(3.516015, 22.034492, 61.697214, 120.901916, 199.859530),
        compute=lambda: _slender("cantilever", 0, 5),
        tolerance=1e-3,
        reason="rotary inertia as in B1",
    ),
    Case(
        id="B3",
        title="Simply supported deep beam with shear",
        source="Timoshenko, Phil. Mag. 41, 1921, frequency equation",
        status="closed form",
        conditions="Rib alone, 50 x 100 mm, 1 m, E = 210 GPa, nu = 0.3, 7850 kg/m3, k = 5/6, bending in the "
        "height.",
        unit="Hz",
        labels=modes(3),
        published=timoshenko(1.0, 0.05, 0.10, STEEL, 5 / 6, 3),
        compute=lambda: _supported(True),
        tolerance=1e-4,
        reason="16 quadratic elements of the rib's shear field",
    ),
    Case(
        id="B3-no-shear",
        title="The same beam without shear",
        source="Rayleigh, Theory of Sound, art. 162: rotary inertia, no shear",
        status="closed form",
        conditions="As B3, shear left out.",
        unit="Hz",
        labels=modes(3),
        published=RAYLEIGH,
        compute=lambda: _supported(False),
        tolerance=1e-6,
        reason="polynomials of degree 17 hold the sines to more digits than this",
    ),
    Case(
        id="B4",
        title="Deep simply supported beam, bending modes",
        source="NAFEMS R0016, 1993, Test 5; values and material read in a test manual, geometry from memory",
        status="read",
        conditions="Rib alone, 2 x 2 m, 10 m, E = 200 GPa, nu = 0.3, 8000 kg/m3.",
        unit="Hz",
        labels=modes(3),
        published=(42.650, 148.15, 283.47),
        compute=_deep,
        tolerance=5e-3,
        reason="the shear factor behind the target is not known; 0.85 to 0.886 instead of 5/6 explains all "
        "of it",
    ),
    Case(
        id="B6",
        title="Torsion constant of a rectangle",
        source="Timoshenko & Goodier, Theory of Elasticity, art. 109",
        status="closed form",
        conditions="J = beta b t^3 for b/t as in the column heads, by the section problem that serves the "
        "glued rib.",
        unit="",
        labels=tuple(f"b/t = {r}" for r in BETA),
        published=tuple(BETA.values()),
        compute=_rectangles,
        tolerance=5e-3,
        reason="three quadratic elements through the thickness, enough for the 1 % that a rib's torsion "
        "needs",
    ),
    Case(
        id="B8",
        title="Strip with a rib on its face (T-section), free",
        source="transformed section, EI of the composite in the Euler-Bernoulli formula",
        status="closed form",
        conditions="Aluminium strip 500 x 20 x 3 mm, rib 6 x 12 mm; glued rib, thin plate, no shear.",
        unit="Hz",
        labels=modes(3),
        published=(331.02, 912.46, 1788.78),
        compute=lambda: _strip(lambda *a: glued(*a, shear=False)),
        tolerance=(5e-3, 1e-2, 2e-2),
        reason="rotary inertia about the composite's axis, left out of the formula, takes 0.2, 0.7 and 1.3 %",
    ),
    Case(
        id="B8-line",
        title="The same strip, rib joined along a line",
        source=RITZ,
        status="computed independently",
        conditions="As B8.",
        unit="Hz",
        labels=modes(3),
        published=(330.22, 906.2, 1764.8),
        compute=lambda: _strip(line_joined),
        tolerance=2e-3,
        reason="same theory; both are upper bounds of it",
    ),
)
