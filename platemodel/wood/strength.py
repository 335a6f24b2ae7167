"""How strong clear wood is, how long loading weakens it, and how it creeps.

A handbook's strengths are means of small clear specimens broken in minutes. Strings pull for decades: a
timber standard's factors say what is left of the strength and how much the deflection grows. The figures are
quoted from memory and say so in the table and in `docs/load.md`.
"""

from dataclasses import dataclass, replace
from functools import cache

import pandas as pd

from platemodel.resources import data_path
from platemodel.wood.estimate import HALF_WIDTH
from platemodel.wood.orthotropic import Orthotropic
from platemodel.wood.species import USUAL_SPECIES

MPA = 1e6
KINDS = ("bending", "compression_along", "compression_across", "shear", "tension_across")
#: Powers of the specific gravity, softwoods at 12 % moisture: Wood Handbook, FPL-GTR-190, 2010, table 5-11
#: (from memory), in the order of ``KINDS``.
DENSITY_POWERS = dict(zip(KINDS, (1.01, 0.97, 1.57, 0.85, 1.11), strict=True))
#: The same table's factors, Pa: mean strength of a softwood of specific gravity 1.
SOFTWOOD = dict(zip(KINDS, (170.7 * MPA, 93.7 * MPA, 16.5 * MPA, 16.6 * MPA, 6.0 * MPA), strict=True))
DURATIONS = ("permanent", "long", "medium", "short", "instantaneous")
#: EN 1995-1-1:2004, table 3.1, solid timber, by service class (from memory).
K_MOD = {
    1: dict(zip(DURATIONS, (0.60, 0.70, 0.80, 0.90, 1.10), strict=True)),
    2: dict(zip(DURATIONS, (0.60, 0.70, 0.80, 0.90, 1.10), strict=True)),
    3: dict(zip(DURATIONS, (0.50, 0.55, 0.65, 0.70, 0.90), strict=True)),
}
#: EN 1995-1-1:2004, table 3.2, solid timber, by service class (from memory).
K_DEF = {1: 0.60, 2: 0.80, 3: 2.00}


@dataclass(frozen=True)
class Strength:
    """Mean short-term strengths of clear wood, Pa, and their spread.

    Attributes
    ----------
    bending : float
        Modulus of rupture; stands for tension along the grain, which the handbook does not give and which
        is higher.
    compression_along, compression_across : float
        Along the grain; across it at the proportional limit.
    shear : float
        Along the grain.
    spread : dict of str to float
        Coefficient of variation between boards, by the names above.
    """

    bending: float
    compression_along: float
    compression_across: float
    shear: float
    tension_across: float
    spread: dict
    source: str

    def bounds(self, kind: str) -> tuple[float, float]:
        """5 % and 95 % fractile of a strength, Pa, spread normally."""
        mean, cov = getattr(self, kind), self.spread[kind]
        return mean * (1.0 - HALF_WIDTH * cov), mean * (1.0 + HALF_WIDTH * cov)


@cache
def _table() -> pd.DataFrame:
    return pd.read_csv(data_path("wood", "strength.csv"), index_col="species")


def strength_table() -> pd.DataFrame:
    """Handbook strengths, index ``species``, MPa, with spread and source of every row."""
    return _table().copy()


def strength(wood: Orthotropic) -> Strength:
    """Strengths of a wood: its species' handbook row, scaled to its density.

    Parameters
    ----------
    wood : Orthotropic
        Its name is looked up in `strength_table`.

    Raises
    ------
    ValueError
        The species has no row.

    Notes
    -----
    Scaled by the powers of the specific gravity in ``DENSITY_POWERS`` (Wood Handbook, 2010, table 5-11, from
    memory).
    """
    table = _table()
    if wood.name not in table.index:
        msg = f"no strengths for {wood.name!r}; the table has {', '.join(table.index)}"
        raise ValueError(msg)
    row = table.loc[wood.name]
    ratio = wood.density / row["density_kg_m3"]
    values = {k: MPA * float(row[f"{k}_mpa"]) * ratio ** DENSITY_POWERS[k] for k in KINDS}
    return Strength(**values, spread={k: float(row[f"cov_{k}"]) for k in KINDS}, source=row["source"])


def usual_strength(wood: Orthotropic) -> Strength:
    """Strengths of a wood, by those of tonewood spruce where its own name has no row; see `strength`."""
    return strength(wood if wood.name in _table().index else replace(wood, name=USUAL_SPECIES))


def k_mod(duration: str = "permanent", service_class: int = 1) -> float:
    """Share of the short-term strength left under a load of some duration (EN 1995-1-1, table 3.1).

    Parameters
    ----------
    duration : {"permanent", "long", "medium", "short", "instantaneous"}
        More than 10 years, 6 months to 10 years, 1 week to 6 months, less than 1 week, a blow.
    service_class : {1, 2, 3}
        1: indoors, 2: under a roof, 3: outdoors.

    Raises
    ------
    ValueError
        Unknown duration or class.
    """
    _check_class(service_class)
    if duration not in DURATIONS:
        msg = f"load duration {duration!r}; allowed are {', '.join(DURATIONS)}"
        raise ValueError(msg)
    return K_MOD[service_class][duration]


def k_def(service_class: int = 1) -> float:
    """Creep factor: final over first deflection, less 1 (EN 1995-1-1, table 3.2, solid timber).

    Raises
    ------
    ValueError
        Unknown class.
    """
    _check_class(service_class)
    return K_DEF[service_class]


def _check_class(service_class):
    if service_class not in K_DEF:
        msg = f"service class {service_class!r}; allowed are 1 (indoors), 2 (under a roof), 3 (outdoors)"
        raise ValueError(msg)


def duration_of_load(seconds: float) -> float:
    """Strength under a load of constant size over that of a test of some minutes (the Madison curve).

    Parameters
    ----------
    seconds : float
        How long the load stays, s.

    Raises
    ------
    ValueError
        Not positive.

    Notes
    -----
    Per cent = 18.3 + 108.4 t^-0.04635: Wood, *Relation of strength of wood to duration of load*, Forest
    Products Laboratory report 1916, 1951 (from memory). For bending of clear wood, indoors.
    """
    if not seconds > 0:
        msg = f"duration {seconds} s must be positive"
        raise ValueError(msg)
    return (18.3 + 108.4 * seconds**-0.04635) / 100.0
