"""Air that moves with a thin rigid plate: closed forms of incompressible flow without a baffle."""

import numpy as np
from scipy.special import ellipe
from shapely import affinity
from shapely.geometry import Point

from platemodel.fem.plate_in_air import AirPanels, inset_grid
from tests.published.cases.case import Case

RADIUS, SHORT, TILT = 0.1, 0.06, np.radians(30.0)
ACROSS = 40  # panels over the long diameter
LAMB = "Lamb, Hydrodynamics, 1932, sections 102 and 373"


def plate(long, short, tilt=0.0, across=ACROSS):
    """Panels of an ellipse, turned about its short diameter out of the plan."""
    outline = affinity.scale(Point(0, 0).buffer(1.0, quad_segs=200), long * np.cos(tilt), short)
    pitch = 2 * long / across
    return AirPanels(inset_grid(outline, pitch), pitch, lambda x, y: np.tan(tilt) * x)


def mass(panels, motion=None):
    """Added mass in unit air of a motion along the normal at the panels' middles."""
    motion = np.ones(panels.middles.shape[1]) if motion is None else motion
    return float(panels.added_mass(motion[:, None], 1.0)[0, 0])


def _discs():
    flat = plate(RADIUS, RADIUS)
    return (
        mass(flat),
        mass(flat, flat.middles[0]),
        mass(plate(RADIUS, RADIUS, TILT)),
        mass(plate(RADIUS, SHORT)),
    )


CASES = (
    Case(
        id="A1",
        title="Rigid disc and ellipse in unbounded air",
        source=LAMB + " (from memory)",
        status="closed form",
        conditions="Disc of radius a: 8/3 rho a^3 broadside, 16/45 rho a^5 turning about a diameter. Ellipse "
        "of half axes a, b: 4/3 pi rho a b^2 / E(k), k^2 = 1 - b^2/a^2. Density 1, a 0.1 m, b 0.06 m; the "
        "tilted disc lies at 30 degrees to the plan in which its panels are laid.",
        unit="m3, m5",
        labels=("disc broadside", "disc turning", "disc, tilted panels", "ellipse broadside"),
        published=(
            8 / 3 * RADIUS**3,
            16 / 45 * RADIUS**5,
            8 / 3 * RADIUS**3,
            4 / 3 * np.pi * RADIUS * SHORT**2 / ellipe(1 - (SHORT / RADIUS) ** 2),
        ),
        compute=_discs,
        tolerance=(0.02, 0.03, 0.03, 0.02),
        reason="the stepped edge of square panels is off a circle by up to a quarter of a panel here and "
        "there; a quarter of a panel all round would be 2 % of the radius over 40 panels",
    ),
)
