"""Strips, plates and moisture: worked examples and handbook values."""

from functools import cache

import numpy as np

from platemodel.study.wood.plate_constants import PlateTaps, plate_fit, plate_tones
from platemodel.wood import species_estimate
from platemodel.wood.closed_form import (
    modulus_from_tap,
    shear_factor,
    shear_modulus_from_twist,
    tap_frequency,
)
from platemodel.wood.moisture import at_moisture_content, density_from_specific_gravity, equilibrium_moisture
from platemodel.wood.strip import Strip, StripBend
from tests.published.cases.case import Case
from tests.published.cases.measured_plates import PLATES
from tests.published.cases.models import SPRUCE

HAND = "worked by hand from the formula"
A, B, H = 0.36, 0.20, 0.003  # m, the plate of the cases
BEAMS = {(2, 0): 131.51, (0, 2): 116.29, (1, 1): 60.73}  # Hz, Ritz
SLENDER = (50, 40, 30, 20)
HUMIDITY = (0.05, 0.30, 0.50, 0.65, 0.80, 0.90)


def _strip():
    strip = Strip(0.300, 0.020, 0.006, 14.8e-3)
    E = modulus_from_tap(345.0, strip.length, strip.thickness, strip.density)
    c = np.sqrt(E / strip.density)
    return strip.density, 1e-9 * E, c, c / strip.density


def _bend():
    wood = {"E_L": 12e9, "G_LT": np.inf}
    out = []
    for way in ("flat", "edge"):
        test = StripBend(Strip(0.3, 0.012, 0.006, 9e-3), 0.2 * 9.81, 0.35e-3, 0.28, way)
        out.append(1e3 * test.expected(wood | {"G_LR": np.inf}, (0.3, 0.012, 0.006), None))
    return out


def _closed_forms():
    rho = SPRUCE.density
    G = shear_modulus_from_twist(1.0, A, B, H, rho)
    return (
        tap_frequency(SPRUCE.E_L, A, H, rho),
        tap_frequency(SPRUCE.E_R, B, H, rho),
        np.sqrt(SPRUCE.G_LR / G),
    )


def _bias():
    found = plate_tones(SPRUCE, A, B, H, list(BEAMS), shear=False).frequencies
    return found / np.array(_closed_forms())


def _round_trip():
    plate = PlateTaps(
        A, B, H, SPRUCE.density * A * B * H, BEAMS, 1e-7, 1e-8, sd_mass=1e-7, sd_frequency=1e-4, sd_even=0.0
    )
    prior = species_estimate("tonewood spruce", known=("nu_LR",), nu_LR=SPRUCE.nu_LR)
    wood = plate_fit(prior, plate, shear=False).estimate.wood
    return 1e-9 * wood.E_L, 1e-9 * wood.E_R, 1e-9 * wood.G_LR


@cache
def measured_fit(name):
    """Fit of `measured_plate`."""
    return plate_fit("Sitka spruce", measured_plate(name))


def measured_plate(name):
    """Taps of a measured plate: twist, first and second bending tone along; no cross tone was identified."""
    a, b, h, mass, _, _, _, peaks = PLATES[name]
    taps = {(1, 1): peaks[0], (2, 0): peaks[1], (3, 0): peaks[3]}
    return PlateTaps(1e-3 * a, 1e-3 * b, 1e-3 * h, 1e-3 * mass, taps)


def _measured(name):
    wood = measured_fit(name).estimate.wood
    return 1e-9 * wood.E_L, 1e-9 * wood.G_LR


CASES = (
    Case(
        id="W1",
        title="Tapped strip, 300 x 20 x 6.00 mm, 14.8 g, 345 Hz",
        source=f"{HAND}: E = 0.9464 density f^2 L^4/h^2, thin beam",
        status="closed form",
        conditions="Free strip, shear left out as in the example.",
        unit="",
        labels=("density kg/m3", "E GPa", "c m/s", "c/density"),
        published=(411.0, 10.4, 5034.0, 12.2),
        compute=_strip,
        tolerance=(0.0013, 0.005, 1e-4, 0.0042),
        reason="half a unit of the last figure given",
    ),
    Case(
        id="W2",
        title="By how much shear makes a strip read low, L/h 50, 40, 30, 20",
        source=f"{HAND} with the factors of Goens 1931 (Brancheriau & Bailleres, Wood Sci. Technol., 2002)",
        status="closed form",
        conditions="First free bending mode, E/G 16, k 5/6; per cent of E.",
        unit="%",
        labels=tuple(f"L/h {s}" for s in SLENDER),
        published=(1.0, 1.5, 2.6, 6.0),
        compute=lambda: [100 * (shear_factor(s, 16.0) - 1) for s in SLENDER],
        tolerance=(0.05, 0.034, 0.02, 0.083),
        reason="half a unit of the last figure given",
    ),
    Case(
        id="W3",
        title="Static bend: 200 g at 280 mm on 12 x 6 mm, E 12 GPa",
        source=f"{HAND}: F L^3/(48 E I)",
        status="closed form",
        conditions="Flat and on edge, shear left out as in the example.",
        unit="mm",
        labels=("flat", "on edge"),
        published=(0.35, 0.087),
        compute=_bend,
        tolerance=(0.0143, 0.0058),
        reason="half a unit of the last figure given",
    ),
    Case(
        id="W4",
        title="Modulus of Sitka spruce at 8 % moisture",
        source="Wood Handbook, FPL-GTR-190, 2010, ch. 5: 1.57 and 1.23 million psi at 12 % and green, "
        "meeting at 27 %",
        status="from memory",
        conditions="P = P12 (P12/Pg)^((12 - M)/(Mp - 12)).",
        unit="10^6 psi",
        labels=("MOE",),
        published=(1.6756,),
        compute=lambda: [at_moisture_content(1.57, 1.23, 0.08, 0.27)],
        tolerance=3e-5,
        reason="half a unit of the last figure",
    ),
    Case(
        id="W5",
        title="Equilibrium moisture at 70 F",
        source="Wood Handbook, FPL-GTR-190, 2010, table 4-2",
        status="from memory",
        conditions="Hailwood-Horrobin with the coefficients of equation 4-5, 21.1 degrees C.",
        unit="%",
        labels=tuple(f"{100 * h:.0f} % RH" for h in HUMIDITY),
        published=(1.3, 6.2, 9.2, 12.0, 16.0, 20.5),
        compute=lambda: [100 * equilibrium_moisture(h, 21.1) for h in HUMIDITY],
        tolerance=(0.039, 0.0081, 0.0055, 0.0042, 0.0032, 0.0025),
        reason="half a unit of the last figure printed",
    ),
    Case(
        id="W6",
        title="Density of Sitka spruce at 12 %",
        source="Wood Handbook, FPL-GTR-190, 2010, ch. 4 and table 5-3: specific gravity 0.40 on 12 % volume",
        status="from memory",
        conditions="1000 G (1 + M).",
        unit="kg/m3",
        labels=("density",),
        published=(448.0,),
        compute=lambda: [density_from_specific_gravity(0.40, 0.12)],
        tolerance=1e-9,
        reason="arithmetic",
    ),
    Case(
        id="W7",
        title="Free spruce plate: tone over its closed form",
        source="closed forms as McIntyre & Woodhouse, Acta Metall. 36, 1988, against a Ritz model",
        status="computed independently",
        conditions="360 x 200 x 3 mm, Kirchhoff. Bending along, bending across, twist: 131.51/129.67, "
        "116.29/117.36, 60.73/63.33: what one-shot formulas are off by.",
        unit="",
        labels=("(2,0)", "(0,2)", "(1,1)"),
        published=(131.51 / 129.67, 116.29 / 117.36, 60.73 / 63.33),
        compute=_bias,
        tolerance=1e-3,
        reason="rotary inertia, 0.05 %, is in the shell and not in the Ritz model",
    ),
    Case(
        id="W8",
        title="Constants from three taps of a free spruce plate, round trip",
        source="tones of a Ritz model made with E_L 11.88, E_R 0.927, G_LR 0.760 GPa",
        status="computed independently",
        conditions="The plate of W7; size, weight and nu_LR known, the rest open; thin shell.",
        unit="GPa",
        labels=("E_L", "E_R", "G_LR"),
        published=(11.88, 0.927, 0.760),
        compute=_round_trip,
        tolerance=5e-3,
        reason="0.05 % in a tone of the mixed pair is 0.2 % in a constant; the prior adds as much",
    ),
    *(
        Case(
            id=f"W9-{name}",
            title=f"Constants of measured spruce plate {name}",
            source="Badiane et al., J. Acoust. Soc. Am., 2023: sizes, mass and constants read; peaks read "
            "from the impulse records, within 0.5 Hz",
            status="read",
            conditions="From f11, f20 and (3,0), Sitka spruce beforehand. No cross tone, so E_R is left "
            "to its band.",
            unit="GPa",
            labels=("E_L", "G_LR"),
            published=(data[4], data[6]),
            compute=lambda name=name: _measured(name),
            tolerance=(0.04, 0.08),
            reason="the study's own standard deviations: E_L 2 to 4 %, G_LR 2 to 8 %",
        )
        for name, data in PLATES.items()
    ),
)
