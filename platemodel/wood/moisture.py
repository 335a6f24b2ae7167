"""Wood in moist and dry air: equilibrium moisture, and what moisture does to stiffness, size and weight.

Moisture content and relative humidity are fractions (0.12, not 12).
"""

from dataclasses import replace

import numpy as np

from platemodel.wood.estimate import CONSTANTS, WoodEstimate

REFERENCE = 0.12  # moisture content of handbook values
INTERSECTION = 0.25  # moisture above which stiffness no longer changes, if unknown (Wood Handbook)
INTERSECTION_SPRUCE = 0.27  # Sitka and red spruce (Wood Handbook, from memory)
FIBRE_SATURATION = 0.30
# Change of the logarithm per unit of moisture content near 12 %. Middle trends, Wood Handbook, FPL-GTR-190,
# 2010, table 5-15, after Gerhards, Wood and Fiber 14, 1982 (from memory): from 12 to 6 % and to 20 %
# +9 and -13 % along, +20 and -23 % across, +20 and -20 % in shear. Poisson ratios are left as they are.
SLOPES = {"E_L": -1.6, "E_R": -3.2, "E_T": -3.2, "G_LR": -2.9, "G_LT": -2.9, "G_RT": -2.9}
SLOPE_DOUBT = 0.35  # relative sd of a slope from one wood to another, a judgement
# Shrinkage from fibre saturation to oven-dry over the size at saturation: Norway spruce R and T read in a
# public timber data sheet; L from memory.
SHRINKAGE = {"L": 0.001, "R": 0.036, "T": 0.078}
SHRINKAGE_MAPLE = {"L": 0.001, "R": 0.045, "T": 0.078}  # sycamore maple, from memory


def equilibrium_moisture(relative_humidity: float, temperature: float = 20.0) -> float:
    """Moisture content that wood comes to in air.

    Parameters
    ----------
    relative_humidity : float
        Fraction, 0 to below 1.
    temperature : float
        Degrees Celsius.

    Returns
    -------
    float
        Fraction of the oven-dry weight.

    Raises
    ------
    ValueError
        Humidity or temperature out of range.

    Notes
    -----
    Hailwood-Horrobin model with the coefficients of the Wood Handbook, FPL-GTR-190, 2010, equation 4-5 (from
    memory). Old or finished wood comes to a little less.
    """
    if not 0 <= relative_humidity < 1:
        msg = f"relative humidity {relative_humidity}: a fraction from 0 to below 1 is needed (0.5 for 50 %)"
        raise ValueError(msg)
    if not -20 <= temperature <= 80:
        msg = f"temperature {temperature}: allowed -20 to 80 degrees C"
        raise ValueError(msg)
    t, h = temperature, relative_humidity
    weight = 349 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    x = k * h
    two = (k1 * x + 2 * k1 * k2 * x**2) / (1 + k1 * x + k1 * k2 * x**2)
    return 18 / weight * (x / (1 - x) + two)


def at_moisture_content(
    at_12: float, green: float, moisture: float, intersection: float = INTERSECTION_SPRUCE
) -> float:
    """Property at a moisture content from its values at 12 % and green.

    P = P12 (P12/Pg)^((12 - M)/(Mp - 12)), moisture in per cent (Wood Handbook, FPL-GTR-190, 2010, chapter 5,
    from memory).

    Parameters
    ----------
    at_12, green : float
        In any unit.
    moisture : float
        Fraction.
    intersection : float
        Moisture content above which the property no longer changes (the handbook's intersection moisture
        content), fraction.
    """
    _check(moisture)
    moisture = min(moisture, intersection)
    return at_12 * (at_12 / green) ** ((REFERENCE - moisture) / (intersection - REFERENCE))


def swelling_rates(species: str = "spruce") -> np.ndarray:
    """Strain along L, R, T for each unit of moisture content (1 is 100 %), below fibre saturation: (3,).

    Parameters
    ----------
    species : {"spruce", "maple"}
    """
    whole = SHRINKAGE_MAPLE if species == "maple" else SHRINKAGE
    return np.array([whole[axis] for axis in "LRT"]) / FIBRE_SATURATION


def swelling(moisture: float, to: float, direction: str) -> float:
    """Factor of a size when wood goes from one moisture content to another.

    Parameters
    ----------
    moisture, to : float
        Fractions.
    direction : {"L", "R", "T"}
    """
    _check(moisture)
    _check(to)
    whole = SHRINKAGE[direction]
    low, high = (1 - whole * (1 - min(m / FIBRE_SATURATION, 1)) for m in (moisture, to))
    return high / low


def density_factor(moisture: float, to: float) -> float:
    """Factor of the density: more water in a piece that swells."""
    volume = np.prod([swelling(moisture, to, axis) for axis in "LRT"])
    return float((1 + to) / (1 + moisture) / volume)


def density_from_specific_gravity(gravity: float, moisture: float) -> float:
    """Density in kg/m3 from oven-dry weight over volume at that moisture: 1000 G (1 + M)."""
    _check(moisture)
    return 1000 * gravity * (1 + moisture)


def at_moisture(wood: WoodEstimate, moisture: float, to: float) -> WoodEstimate:
    """Estimate of a wood at another moisture content.

    Parameters
    ----------
    wood : WoodEstimate
        As measured.
    moisture : float
        Moisture content when measured, fraction.
    to : float
        Moisture content wanted, fraction.

    Returns
    -------
    WoodEstimate
        Medians moved by ``SLOPES``, the band widened by their doubt.

    Raises
    ------
    ValueError
        A moisture content that is no fraction between 0 and 0.3.
    """
    change = min(to, INTERSECTION) - min(moisture, INTERSECTION)
    factor = {c: np.exp(slope * change) for c, slope in SLOPES.items()}
    factor["density"] = density_factor(moisture, to)
    moved = replace(wood.wood, **{c: f * getattr(wood.wood, c) for c, f in factor.items()})
    doubt = np.diag([(SLOPE_DOUBT * SLOPES.get(c, 0.0) * change) ** 2 for c in CONSTANTS])
    source = f"{wood.source}; from {100 * moisture:.1f} to {100 * to:.1f} % moisture"
    return WoodEstimate(moved, wood.log_cov + doubt, source)


def tap_factor(moisture: float, to: float, along: str = "L", thickness_along: str = "T") -> float:
    """Factor of a strip's bending tone when its moisture changes: stiffness, weight and size together."""
    change = min(to, INTERSECTION) - min(moisture, INTERSECTION)
    stiffness = np.exp(SLOPES[f"E_{along}"] * change)
    length, depth = swelling(moisture, to, along), swelling(moisture, to, thickness_along)
    return float(depth / length**2 * np.sqrt(stiffness / density_factor(moisture, to)))


def _check(moisture):
    if not 0 <= moisture <= 0.3:
        msg = f"moisture content {moisture}: a fraction from 0 to 0.3 is needed (0.12 for 12 %)"
        raise ValueError(msg)
