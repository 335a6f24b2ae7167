"""How wood and hot glue hold and lead heat."""

from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd

from platemodel.resources import data_path

KELVIN = 273.15
MOST_MOISTURE = 0.25  # the handbook's formula for conductivity holds below
KILO = 1e3


@dataclass(frozen=True)
class Thermal:
    """A material that leads heat, the same in the directions that matter here.

    Attributes
    ----------
    conductivity : float
        W/(m K).
    density : float
        kg/m3.
    specific_heat : float
        J/(kg K).
    """

    conductivity: float
    density: float
    specific_heat: float

    def __post_init__(self):
        for name in ("conductivity", "density", "specific_heat"):
            value = getattr(self, name)
            if not (np.isfinite(value) and value > 0):
                msg = f"{name} = {value} must be positive"
                raise ValueError(msg)

    @property
    def heat_capacity(self) -> float:
        """Per volume, J/(m3 K)."""
        return self.density * self.specific_heat

    @property
    def diffusivity(self) -> float:
        """Conductivity over heat capacity per volume, m2/s."""
        return self.conductivity / self.heat_capacity

    @property
    def effusivity(self) -> float:
        """Root of conductivity times heat capacity per volume, W s^0.5/(m2 K): what decides a contact."""
        return float(np.sqrt(self.conductivity * self.heat_capacity))


@cache
def _table() -> pd.DataFrame:
    return pd.read_csv(data_path("wood", "thermal.csv"), index_col="name")


def thermal_table() -> pd.DataFrame:
    """Constants of the formulas below, index ``name``, each with its unit and source."""
    return _table().copy()


def _constant(name):
    return float(_table().loc[name, "value"])


def conductivity(density: float, moisture: float = 0.12) -> float:
    """Thermal conductivity of wood across the grain, W/(m K).

    Parameters
    ----------
    density : float
        kg/m3, weight and volume at that moisture.
    moisture : float
        Fraction of the oven-dry weight, 0 to 0.25.

    Raises
    ------
    ValueError
        Density not positive, moisture out of range.

    Notes
    -----
    k = G (B + C M) + A with the specific gravity G of oven-dry weight and volume at moisture, M in per cent:
    Wood Handbook, FPL-GTR-190, 2010, equation 4-7 (from memory); for G above 0.3, near 24 degrees C. Boards
    differ by some 20 %. Along the grain heat goes 1.5 to 2.8 times as well.
    """
    _check(density, moisture)
    gravity = density / 1000.0 / (1.0 + moisture)
    per_cent = 100.0 * moisture
    return gravity * (_constant("k_gravity") + _constant("k_moisture") * per_cent) + _constant("k_base")


def specific_heat(temperature: float = 20.0, moisture: float = 0.12) -> float:
    """Specific heat of wood, J/(kg K).

    Parameters
    ----------
    temperature : float
        Degrees Celsius, -20 to 147; made for 7 and above.
    moisture : float
        Fraction of the oven-dry weight, 0 to 0.25.

    Raises
    ------
    ValueError
        Temperature or moisture out of range.

    Notes
    -----
    Wood Handbook, FPL-GTR-190, 2010, equations 4-16 to 4-18 (from memory): oven-dry wood and water by weight,
    and a part for their bond; the same for all species.
    """
    _check(1.0, moisture)
    if not -20 <= temperature <= 147:
        msg = f"temperature {temperature} degrees C: allowed -20 to 147"
        raise ValueError(msg)
    kelvin, per_cent = temperature + KELVIN, 100.0 * moisture
    dry = _constant("c_base") + _constant("c_slope") * kelvin
    bond = per_cent * (_constant("bond_b1") + _constant("bond_b2") * kelvin + _constant("bond_b3") * per_cent)
    mixed = (dry + _constant("c_water") * moisture) / (1.0 + moisture)
    return KILO * (mixed + bond)


def wood_thermal(density: float, moisture: float = 0.12) -> Thermal:
    """Wood across the grain.

    Parameters
    ----------
    density : float
        kg/m3 at that moisture.
    moisture : float
        Fraction.

    Notes
    -----
    The specific heat is taken at 30 degrees C, as in a joint just warmed.
    """
    return Thermal(conductivity(density, moisture), density, specific_heat(30.0, moisture))


def glue_thermal() -> Thermal:
    """Hot hide glue ready to spread; middle of `thermal_table`'s band."""
    return Thermal(
        _constant("glue_conductivity"), _constant("glue_density"), KILO * _constant("glue_specific_heat")
    )


def _check(density, moisture):
    if not (np.isfinite(density) and density > 0):
        msg = f"density {density} kg/m3 must be positive"
        raise ValueError(msg)
    if not 0 <= moisture <= MOST_MOISTURE:
        msg = f"moisture {moisture}: a fraction from 0 to {MOST_MOISTURE} is needed (0.12 for 12 %)"
        raise ValueError(msg)
