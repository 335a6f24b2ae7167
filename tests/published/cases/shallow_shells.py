"""Shallow shells: supported, against closed forms, and free."""

import numpy as np
from scipy import sparse

from platemodel.fem.system import System
from platemodel.wood.orthotropic import Orthotropic
from tests.published.cases.case import RITZ, SOLIDS, Case, modes
from tests.published.cases.models import (
    ALUMINIUM,
    SPRUCE,
    bending_stiffness,
    diaphragms,
    frequency_number,
    plate,
)
from tests.published.cases.surfaces import paraboloid

A, B, THICKNESS = 0.36, 0.20, 0.003
FLAT = 0.02  # curvature and thickness are scaled by this to reach the shallow limit


def _supported(wood, k_x, k_y, scale):
    """Plate S1 with curvature on shear diaphragms; curvature and thickness times scale, frequency over it."""
    surface = paraboloid(scale * k_x, scale * k_y)
    shell = plate(wood, THICKNESS * scale, A, B, 8, 6, surface=surface, centred=True)
    return System(shell, (), diaphragms(shell)).modes(6).frequencies / scale


def donnell(k_x, k_y, scale, m, n):
    """Exact frequency (Hz) of the supported spruce shallow shell, over scale, from its 3 x 3 eigenproblem."""
    mu = 1 - 0.372**2 * 0.927 / 11.88
    q11, q22, q12, q66 = 11.88e9 / mu, 0.927e9 / mu, 0.372 * 0.927e9 / mu, 0.760e9
    h, p, q = THICKNESS * scale, m * np.pi / A, n * np.pi / B
    k_x, k_y = scale * k_x, scale * k_y
    bend = q11 * p**4 + 2 * (q12 + 2 * q66) * p**2 * q**2 + q22 * q**4
    press = q11 * k_x**2 + 2 * q12 * k_x * k_y + q22 * k_y**2
    x, y = -(q11 * k_x + q12 * k_y) * p, -(q12 * k_x + q22 * k_y) * q
    matrix = np.array(
        [
            [q11 * p**2 + q66 * q**2, (q12 + q66) * p * q, x],
            [(q12 + q66) * p * q, q66 * p**2 + q22 * q**2, y],
            [x, y, h**2 / 12 * bend + press],
        ]
    )
    return np.sqrt(np.linalg.eigvalsh(matrix)[0] / 400.0) / (2 * np.pi * scale)


def reissner(k_x, k_y, m, n):
    """Supported shallow aluminium shell without in-plane inertia, Hz."""
    E, nu, density = 70e9, 0.33, 2700.0
    p, q = (m * np.pi / A) ** 2, (n * np.pi / B) ** 2
    bend = bending_stiffness(E, nu, THICKNESS) * (p + q) ** 2
    stretch = E * THICKNESS * (p * k_y + q * k_x) ** 2 / (p + q) ** 2
    return np.sqrt((bend + stretch) / (density * THICKNESS)) / (2 * np.pi)


def lowest(formula, *args):
    """Six lowest values of a formula of the wave numbers m, n, with them: labels, values."""
    found = sorted((formula(*args, m, n), f"{m},{n}") for m in range(1, 7) for n in range(1, 7))[:6]
    return tuple(label for _, label in found), tuple(value for value, _ in found)


def _free_shallow(k_x, k_y, count):
    """Free square shallow shell in the limit of small slopes, its in-plane inertia kept at full size.

    Curvature and thickness times s leave the ratio of membrane to bending stiffness alone and make slopes
    vanish; displacements along the surface are s times smaller, so their inertia is multiplied by 1/s^2.
    """
    E, nu, density, h = 70e9, 0.3, 2700.0, 0.01 * FLAT
    wood = Orthotropic.isotropic(E, nu, density)
    shell = plate(wood, h, 1.0, 1.0, 4, 4, surface=paraboloid(FLAT * k_x, FLAT * k_y), centred=True)
    station = shell.quadrature
    rows = shell.operator(station, station.axes @ station.displacement_rows())
    weight = density * h * shell.area_weights[:, None] * np.array([FLAT**-2, FLAT**-2, 1.0])
    shell.M = (rows.T @ sparse.diags(weight.ravel()) @ rows).tocsc()
    return frequency_number(System(shell).modes(count), 1.0, h, E, nu, density)


def _panel():
    """Free aluminium panel, 3 mm thick measured upright."""
    k_x, k_y = 1 / 1.6, 1 / 0.8

    def thickness(x, y):
        return 0.003 / np.sqrt(1 + (k_x * x) ** 2 + (k_y * y) ** 2)

    surface = paraboloid(k_x, k_y)
    shell = plate(ALUMINIUM, thickness, A, B, 8, 6, shear=True, surface=surface, centred=True)
    return System(shell).modes(8).frequencies


CURVATURES = ((0.0, 1.0), (0.5, 1.0), (1.0, 1.0))
FREE = {
    "sphere": (0.5, 0.5, (13.575, 19.98, 36.86, 36.86, 49.53, 70.63, 87.34, 87.34)),
    "cylinder": (0.0, 0.5, (13.507, 22.07, 34.87, 48.70, 54.31, 61.19, 72.33)),
    "saddle": (0.5, -0.5, (13.425, 25.66, 38.91, 38.91, 64.23, 79.31, 103.4, 103.4)),
}
LEISSA = "Leissa, Vibration of Shells, NASA SP-288, 1973; Soedel, Vibrations of Shells and Plates: 3 x 3 "
"problem"
SUPPORTED = "360 x 200 x 3 mm, paraboloid, shear diaphragms (x ends v = w = 0, y ends u = w = 0), thin"
CASES = (
    *(
        Case(
            id=f"S8-{k_x:g}-{k_y:g}",
            title=f"Supported spruce shallow shell, curvature {k_x:g} and {k_y:g} per metre",
            source=LEISSA,
            status="closed form",
            conditions=f"Spruce W1 {SUPPORTED}, grain along x following the surface. Labels m, n.",
            unit="Hz",
            labels=lowest(donnell, k_x, k_y, 1.0)[0],
            published=lowest(donnell, k_x, k_y, 1.0)[1],
            compute=lambda k_x=k_x, k_y=k_y: _supported(SPRUCE, k_x, k_y, 1.0),
            tolerance=1e-2,
            reason="shallow theory drops terms of the order of slope squared; slopes reach 0.18 and 0.1",
        )
        for k_x, k_y in CURVATURES
    ),
    *(
        Case(
            id=f"S8-{k_x:g}-{k_y:g}-limit",
            title=f"The same, slopes made small ({k_x:g}, {k_y:g})",
            source=LEISSA,
            status="closed form",
            conditions=f"Curvature and thickness of S8 times {FLAT}, frequencies over it.",
            unit="Hz",
            labels=lowest(donnell, k_x, k_y, FLAT)[0],
            published=lowest(donnell, k_x, k_y, FLAT)[1],
            compute=lambda k_x=k_x, k_y=k_y: _supported(SPRUCE, k_x, k_y, FLAT),
            tolerance=1e-3,
            reason="8 x 6 cells",
        )
        for k_x, k_y in CURVATURES
    ),
    Case(
        id="S9",
        title="Supported isotropic shallow shell",
        source="Reissner, Q. Appl. Math. 13, 1955; NASA SP-288",
        status="closed form",
        conditions=f"Aluminium {SUPPORTED}; curvature 0.5 and 1 per metre, in the limit of S8.",
        unit="Hz",
        labels=lowest(reissner, 0.5, 1.0)[0],
        published=lowest(reissner, 0.5, 1.0)[1],
        compute=lambda: _supported(ALUMINIUM, 0.5, 1.0, FLAT),
        tolerance=1e-3,
        reason="8 x 6 cells",
    ),
    *(
        Case(
            id=f"S10-{name}",
            title=f"Free square shallow shell: {name}",
            source=RITZ + ", shallow-shell theory; case set of Leissa & Narita, J. Sound Vib. 96, 1984",
            status="computed independently",
            conditions="a/h = 100, a/R = 0.5, nu = 0.3, thin, in the limit of small slopes with the full "
            "in-plane "
            "inertia; values omega a^2 sqrt(rho h/D). At the true slopes (0.25 at the edges) the shell is "
            "0.8 to "
            "3 % lower, of the order of slope squared.",
            unit="",
            labels=modes(len(values)),
            published=values,
            compute=lambda k_x=k_x, k_y=k_y, values=values: _free_shallow(k_x, k_y, len(values)),
            tolerance=1e-3,
            reason="published to four digits",
        )
        for name, (k_x, k_y, values) in FREE.items()
    ),
    Case(
        id="S11",
        title="Free doubly curved aluminium panel",
        source=SOLIDS,
        status="computed independently",
        conditions="360 x 200 mm, 3 mm thick measured upright, paraboloid with R_x = 1.6, R_y = 0.8 m, all "
        "free; with "
        "shear.",
        unit="Hz",
        labels=modes(8),
        published=(134.0, 175.0, 306.4, 406.3, 499.2, 555.6, 610.7, 824.1),
        compute=_panel,
        tolerance=5e-3,
        reason="boundary layer of twist at free edges, not refined here",
    ),
)
