"""Strings over a bridge, stresses of loaded plates and bars, strengths and how long they last."""

import numpy as np

from platemodel.fem.rib_stress import rib_forces
from platemodel.fem.stress import shell_stress
from platemodel.fem.supports import hold, hold_point, point_rows
from platemodel.fem.system import System
from platemodel.instrument.bridge import Bridge
from platemodel.instrument.strings import (
    Post,
    SetUp,
    StringSet,
    downforce,
    downforce_of_sides,
    foot_loads,
    tension_of,
)
from platemodel.wood.strength import (
    DENSITY_POWERS,
    KINDS,
    SOFTWOOD,
    duration_of_load,
    k_def,
    k_mod,
    strength_table,
)
from tests.published.cases.case import Case
from tests.published.cases.isotropic import SIDE, STEEL, THIN, TIMOSHENKO
from tests.published.cases.models import X, Y, Z, clamped, edges, immovable, plate, uniform_load
from tests.published.cases.ribs import glued, ribbed_shell

MM = 1e-3
# Tension N and included angle of the worked table, degrees.
STRUNG = ((216, 158), (220, 157.5), (260, 156), (232, 157), (568, 153), (1105, 150))
EUROCODE = "EN 1995-1-1:2004, Eurocode 5: Design of timber structures, "
HANDBOOK = "Forest Products Laboratory, Wood Handbook, FPL-GTR-190, 2010, "
SITKA_GRAVITY = 0.40
YEAR = 365.25 * 86400.0


def hart_feet():
    """Share of the bass foot by the lever, strings at +-17 and +-5.7 mm, feet in their middles at +-15 mm."""
    usual = SetUp(StringSet.usual("violin"), 0.2, 0.2, 34 * MM, Post())
    bass, treble = foot_loads(usual, Bridge(0.16, 41 * MM, 11 * MM, 4.5 * MM))
    return [bass / (bass + treble)]


def pressed_plate(cells, supports, where):
    """Stress of a square steel plate under 1 Pa: `ShellStress` at points given in sides of the plate."""
    shell = plate(STEEL, THIN, SIDE, SIDE, cells, cells)
    u = System(shell, (), supports(shell)).solve(uniform_load(shell, -1.0))
    return shell_stress(shell, u, shell.locate(SIDE * np.array(where, dtype=float).T))


def plate_moments():
    """M over q a^2: middle of the hinged plate, middle and edge of the clamped one."""
    middle = pressed_plate(6, immovable, [(0.5, 0.5)]).moment[0, 0]
    fixed = pressed_plate(6, clamped, [(0.5, 0.5), (1e-9, 0.5)]).moment[:, 0]
    return np.array([middle, *fixed]) / SIDE**2


SPAN, STRIP, THICK, WIDE, HIGH, PRESS = 1.0, 30 * MM, 2.6 * MM, 5.5 * MM, 12 * MM, 10.0
SPRUCE_E = 11e9


def t_section():
    """Bending inertia, distance of the neutral line above the bar's middle, first moment of the bar."""
    bar, strip = WIDE * HIGH, STRIP * THICK
    apart = 0.5 * (HIGH + THICK)
    above = apart * strip / (bar + strip)
    inertia = (WIDE * HIGH**3 + STRIP * THICK**3) / 12 + bar * above**2 + strip * (apart - above) ** 2
    return inertia, above, bar * above


def t_beam(side=-1):
    """Strip with a bar over its whole length on two knife edges, pressed in the middle: shell, forces, u."""
    from platemodel.wood.species import from_species

    wood = from_species("tonewood spruce", E_L=SPRUCE_E)
    shell = ribbed_shell(wood, THICK, np.linspace(0, SPAN, 25), np.linspace(0, STRIP, 3))
    ends = edges(shell, lambda x, y: abs(x - SPAN / 2) > 0.499 * SPAN)
    middle = STRIP / 2
    supports = (
        hold(shell, ends, [Z]),
        hold_point(shell, (0, middle), [X, Y]),
        hold_point(shell, (SPAN, middle), [Y]),
    )
    rib = glued(shell, wood, (0.0, middle), (SPAN, middle), WIDE, HIGH, shear=False, side=side)
    press = point_rows(shell, [[SPAN / 2], [middle]], Z).toarray()[0]
    u = System(shell, (rib,), supports).solve(-PRESS * press)
    return shell, rib_forces(rib, u, u[shell.n_dofs :]), u


def t_stresses():
    """Glue shear, free edge and outer face of the plate at a quarter of the span, Pa."""
    shell, forces, u = t_beam()
    at = int(np.abs(forces.s - SPAN / 4).argmin())
    face = shell_stress(shell, u, shell.locate(np.array([[forces.s[at]], [STRIP / 2 + 6 * MM]])))
    share = SPAN / 4 / forces.s[at]  # stress grows in proportion to the distance from the support
    return [forces.glue_shear[at], share * forces.free[at], share * face.outer[0, 0, 0]]


def t_published():
    """V Q / (I b), M z / I and the same at the outer face."""
    inertia, above, first = t_section()
    force, moment = PRESS / 2, PRESS / 2 * SPAN / 4
    outer = 0.5 * HIGH + THICK - above
    return (
        force * first / inertia / WIDE,
        moment * (above + HIGH / 2) / inertia,
        -moment * outer / inertia,
    )


CASES = (
    Case(
        id="L1",
        title="Tension of a violin's E string",
        source="Mersenne's law T = mu (2 L f)^2, worked by hand",
        status="closed form",
        conditions="0.40 g/m, 328 mm, 659.3 Hz.",
        unit="N",
        labels=("tension",),
        published=(74.8,),
        compute=lambda: [tension_of(0.40e-3, 0.328, 659.3)],
        tolerance=1e-3,
        reason="the hand-worked figure has three digits",
    ),
    Case(
        id="L2",
        title="Downforce from tension and included angle",
        source="equilibrium of a string over an edge, D = 2 T cos(A/2), worked by hand",
        status="closed form",
        conditions="Sums of usual tensions (violin light, typical, heavy, viola, cello, bass) and usual "
        "angles; last, 220 N falling 8 and 14 degrees instead of 11 and 11.",
        unit="N",
        labels=("light", "typical", "heavy", "viola", "cello", "bass", "8 and 14 degrees"),
        published=(82, 86, 108, 92.5, 265, 572, 83.8),
        compute=lambda: [
            *(downforce(t, np.radians(a)) for t, a in STRUNG),
            downforce_of_sides(220, *np.radians([8, 14]))[0],
        ],
        tolerance=6e-3,
        reason="the hand-worked figures have two to three digits",
    ),
    Case(
        id="L3",
        title="Downforce over tension on an old violin",
        source="Hart, The Violin, 1875: 18 lb of tension press with 8 lb",
        status="read",
        conditions="The ratio 4/9 belongs to an included angle of 154.3 degrees.",
        unit="",
        labels=("ratio",),
        published=(4 / 9,),
        compute=lambda: [downforce(1.0, np.radians(154.3))],
        tolerance=2e-3,
        reason="the angle is rounded to 0.1 degree",
    ),
    Case(
        id="L4",
        title="Share of the bass foot",
        source="Hart, The Violin, 1875: string I presses all on the treble foot, II by 2/3, III by 1/3, "
        "IV by none",
        status="read",
        conditions="Tensions 44, 46, 54, 76 N; the rule of the lever on strings at +-17 and +-5.7 mm and "
        "feet at +-15 mm.",
        unit="",
        labels=("bass share",),
        published=((44 + 46 * 2 / 3 + 54 / 3) / 220,),
        compute=hart_feet,
        tolerance=0.03,
        reason="Hart's thirds stand for feet that reach out to the outer strings",
    ),
    Case(
        id="L5",
        title="Bending moments of a pressed square plate",
        source=TIMOSHENKO + "Tables 8 and 35; the clamped plate's middle, printed there as 0.0231, from the "
        "series of Taylor & Govindjee, Commun. Numer. Methods Eng. 20, 2004",
        status="from memory",
        conditions="Square plate, side a, h/a = 1/200, nu = 0.3, thin, even pressure q; M over q a^2. "
        "Middle, all edges hinged; middle and middle of an edge, all edges clamped.",
        unit="",
        labels=("hinged", "clamped, middle", "clamped, edge"),
        published=(0.0479, 0.0229, -0.0513),
        compute=plate_moments,
        tolerance=3e-3,
        reason="the tables have three digits",
    ),
    Case(
        id="L6",
        title="Stresses of a strip with a glued bar",
        source="transformed section: glue line V Q / (I b), faces M z / I (Timoshenko & Gere, Mechanics of "
        "Materials)",
        status="closed form",
        conditions="Strip 1 m x 30 x 2.6 mm, bar 5.5 x 12 mm over its whole length, E 11 GPa, knife edges at "
        "the ends, 10 N in the middle; a quarter of the span from an end. Rib on its glued width, no shear.",
        unit="Pa",
        labels=("glue shear", "free edge of the bar", "outer face"),
        published=t_published(),
        compute=t_stresses,
        tolerance=5e-3,
        reason="the strip's width, which a beam does not have, moves the neutral line by some 0.3 %",
    ),
    Case(
        id="L7",
        title="Duration of load and creep factors",
        source=EUROCODE + "tables 3.1 and 3.2, solid timber",
        status="from memory",
        conditions="Service class 1: strength under permanent, medium, short and instantaneous load; creep "
        "in classes 1, 2, 3.",
        unit="",
        labels=("permanent", "medium", "short", "instantaneous", "creep 1", "creep 2", "creep 3"),
        published=(0.60, 0.80, 0.90, 1.10, 0.60, 0.80, 2.00),
        compute=lambda: [
            *(k_mod(d) for d in ("permanent", "medium", "short", "instantaneous")),
            *(k_def(c) for c in (1, 2, 3)),
        ],
        tolerance=0.0,
        reason="a table copied",
    ),
    Case(
        id="L8",
        title="The Madison curve",
        source="Wood, Forest Products Laboratory report 1916, 1951: strength left after 7.5 minutes, and the "
        "62 % after 10 years on which timber design rests; third the standard's factor for a permanent "
        "load (EN 1995-1-1) at 50 years",
        status="from memory",
        conditions="Strength over that of a short test.",
        unit="",
        labels=("7.5 min", "10 years", "50 years"),
        published=(1.00, 0.62, 0.60),
        compute=lambda: [duration_of_load(t) for t in (450.0, 10 * YEAR, 50 * YEAR)],
        tolerance=0.02,
        reason="the sources have two digits; the standard's factor is rounded to 0.05",
    ),
    Case(
        id="L9",
        title="Strengths of Sitka spruce by the density rule of softwoods",
        source=HANDBOOK + "table 5-3, 12 % moisture",
        status="from memory",
        conditions="Computed: table 5-11's means over all softwoods at specific gravity 0.40.",
        unit="MPa",
        labels=KINDS,
        published=tuple(float(strength_table().loc["Sitka spruce", f"{k}_mpa"]) for k in KINDS),
        compute=lambda: [1e-6 * SOFTWOOD[k] * SITKA_GRAVITY ** DENSITY_POWERS[k] for k in KINDS],
        tolerance=(0.05, 0.05, 0.05, 0.05, 0.20),
        reason="one species against the mean of all; tension across the grain spreads most between species",
    ),
)
