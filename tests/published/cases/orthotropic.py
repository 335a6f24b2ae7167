"""Orthotropic plates."""

import numpy as np

from platemodel.fem.shell import Shell
from platemodel.fem.supports import edge_station, hold_point, point_rows
from platemodel.fem.surface import flat
from platemodel.fem.system import System
from tests.published.cases.case import RITZ, SOLIDS, Case, modes
from tests.published.cases.models import (
    SPRUCE,
    X,
    Y,
    Z,
    clamped,
    edges,
    immovable,
    lines_mesh,
    plate,
    section,
    uniform_load,
)
from tests.published.cases.ribs import with_rim

A, B, THICKNESS = 0.36, 0.20, 0.003  # plate S1: grain along the length
S1 = "Spruce W1 plate 360 x 200 x 3 mm, grain along the length. "
HARMONICS = ((1, 1), (1, 2), (2, 1), (2, 2), (1, 3), (3, 1), (2, 3), (3, 2))
ROTARY = "rotary inertia, which the value leaves out, takes up to 0.1 % off"


def spruce_plate(nx=8, ny=6):
    """Plate S1, thin."""
    return plate(SPRUCE, THICKNESS, A, B, nx, ny)


def _frequencies(count, supports):
    shell = spruce_plate()
    return System(shell, (), supports(shell)).modes(count).frequencies


def _deflection(supports):
    """Middle deflection under 100 Pa, mm."""
    shell = spruce_plate()
    w = System(shell, (), supports(shell)).solve(uniform_load(shell, 100.0))
    return 1e3 * (point_rows(shell, [[A / 2], [B / 2]], Z) @ w)


def _free_with_shear():
    mesh = lines_mesh(with_rim(np.linspace(0, A, 9), 0.004), with_rim(np.linspace(0, B, 7), 0.004))
    shell = Shell(mesh, flat(), section(SPRUCE, THICKNESS))
    return System(shell).modes(8).frequencies


def _corner_twist():
    """Lift of one corner over the plane of the other three under +-1 N, mm."""
    shell = plate(SPRUCE, THICKNESS, A, B, 3, 2)
    corners = point_rows(shell, np.array([[0, A, A, 0], [0, 0, B, B]]), Z)
    pins = (
        hold_point(shell, (0, 0)),
        hold_point(shell, (A, 0), [Z, Y]),
        hold_point(shell, (0, B), [Z]),
    )
    w = corners @ System(shell, (), pins).solve(corners.T @ np.array([1.0, -1.0, 1.0, -1.0]))
    return [1e3 * (w[0] - w[1] + w[2] - w[3])]


def _off_axis_strip(degrees):
    """Modulus (GPa) from the stretch of a strip pulled at its ends, grain at an angle in its plane."""
    angle, length, width = np.deg2rad(degrees), 0.2, 0.05
    c, s = np.cos(angle), np.sin(angle)
    axes = np.array([[c, s, 0], [-s, c, 0], [0, 0, 1.0]])
    shell = plate(SPRUCE, THICKNESS, length, width, 4, 1, axes=axes)
    load = np.zeros(shell.n_dofs)
    for end, sign in ((0.0, -1.0), (length, 1.0)):
        facets = edges(shell, lambda x, y, end=end: abs(x - end) < 1e-9)
        station, lengths, _ = edge_station(shell, facets)
        rows = station.displacement_rows()[:, :1]
        load += shell.operator(station, rows).T @ (sign * lengths)
    pins = (
        hold_point(shell, (0, 0)),
        hold_point(shell, (0, width), [Z, X]),
        hold_point(shell, (length, 0), [Z]),
    )
    u = System(shell, (), pins).solve(load)
    ends = point_rows(shell, [[0, length, 0, length], [0, 0, width, width]], X) @ u
    stretch = 0.5 * (ends[1] - ends[0] + ends[3] - ends[2]) / length
    return 1e-9 / THICKNESS / stretch


OFF_AXIS = (10, 30, 60)


def off_axis_modulus(angle):
    """1/E = c^4/E_L + s^4/E_R + s^2 c^2 (1/G_LR - 2 nu_LR/E_L), GPa, for spruce W1."""
    c, s = np.cos(angle), np.sin(angle)
    return 1 / (c**4 / 11.88 + s**4 / 0.927 + s**2 * c**2 * (1 / 0.760 - 2 * 0.372 / 11.88))


CASES = (
    Case(
        id="O1",
        title="Simply supported spruce plate",
        source="Leissa, NASA SP-160, 1969, ch. 9; Timoshenko & Woinowsky-Krieger, 1959, art. 85",
        status="closed form",
        conditions=S1 + "Edges w = u = v = 0, rotation free; thin.",
        unit="Hz",
        labels=tuple(f"{m},{n}" for m, n in HARMONICS),
        published=(96.710, 244.956, 262.637, 386.841, 502.800, 548.336, 626.481, 656.787),
        compute=lambda: _frequencies(8, immovable),
        tolerance=1e-3,
        reason=ROTARY,
    ),
    Case(
        id="O2",
        title="Simply supported spruce plate under pressure",
        source="Timoshenko & Woinowsky-Krieger, 1959, art. 85, Navier's double series",
        status="closed form",
        conditions=S1 + "Edges w = u = v = 0; 100 Pa; middle deflection.",
        unit="mm",
        labels=("middle",),
        published=(0.358553,),
        compute=lambda: _deflection(immovable),
        tolerance=1e-4,
        reason="8 x 6 cells",
    ),
    Case(
        id="O3",
        title="Clamped spruce plate",
        source=RITZ,
        status="computed independently",
        conditions=S1 + "Edges w = u = v = 0 and slope 0; thin.",
        unit="Hz",
        labels=modes(6),
        published=(189.77, 376.4, 402.4, 553.3, 680.8, 741.7),
        compute=lambda: _frequencies(6, clamped),
        tolerance=2e-3,
        reason="rotary inertia as in O1; the value is an upper bound",
    ),
    Case(
        id="O3-static",
        title="Clamped spruce plate under pressure",
        source=RITZ,
        status="computed independently",
        conditions=S1 + "Edges w = u = v = 0 and slope 0; 100 Pa; middle deflection.",
        unit="mm",
        labels=("middle",),
        published=(0.096627,),
        compute=lambda: _deflection(clamped),
        tolerance=2e-4,
        reason="8 x 6 cells against a lower bound",
    ),
    Case(
        id="O4",
        title="Free spruce plate, thin",
        source=RITZ,
        status="computed independently",
        conditions=S1 + "All edges free; thin.",
        unit="Hz",
        labels=modes(10),
        published=(60.73, 116.29, 131.51, 169.58, 178.18, 303.7, 324.9, 359.0, 369.5, 404.3),
        compute=lambda: _frequencies(10, lambda s: ()),
        tolerance=2e-3,
        reason="rotary inertia as in O1; the value is an upper bound",
    ),
    Case(
        id="O4-solid",
        title="Free spruce plate with transverse shear",
        source=SOLIDS,
        status="computed independently",
        conditions=S1 + "All edges free; with shear, one row of elements 4 mm wide along the rim.",
        unit="Hz",
        labels=modes(8),
        published=(60.04, 115.92, 131.36, 167.88, 176.36, 298.7, 321.0, 358.0),
        compute=_free_with_shear,
        tolerance=1e-2,
        reason="theory of first-order shear; the twist's boundary layer at free edges, as thick as the "
        "plate, is the "
        "last to converge",
    ),
    Case(
        id="O9",
        title="Twist of a free plate by corner forces",
        source="Timoshenko & Woinowsky-Krieger, 1959, art. 11: 3 P a b / (G h^3)",
        status="closed form",
        conditions=S1 + "+-1 N at alternate corners; lift of one corner over the plane of the other three; "
        "thin.",
        unit="mm",
        labels=("lift",),
        published=(1e3 * 3 * A * B / (0.760e9 * THICKNESS**3),),
        compute=_corner_twist,
        tolerance=1e-6,
        reason="the exact shape w = x y lies in the element's space",
    ),
    Case(
        id="O10",
        title="Modulus of a strip with the grain at an angle",
        source="Jones, Mechanics of Composite Materials, 1975, ch. 2",
        status="closed form",
        conditions="Spruce W1 strip 200 x 50 x 3 mm pulled by a constant traction, grain at the angle in "
        "its plane.",
        unit="GPa",
        labels=tuple(f"{d} degrees" for d in OFF_AXIS),
        published=tuple(off_axis_modulus(np.deg2rad(d)) for d in OFF_AXIS),
        compute=lambda: [_off_axis_strip(d) for d in OFF_AXIS],
        tolerance=1e-6,
        reason="uniform stress, exact in the element's space",
    ),
)
