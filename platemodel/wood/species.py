"""Handbook data of tonewoods, and wood from a species plus whatever was measured."""

from functools import cache

import pandas as pd

from platemodel.resources import data_path
from platemodel.wood.orthotropic import Orthotropic

MOE_TO_E_L = 1.10  # shear correction of the tabulated bending modulus, Wood Handbook ch. 5 (from memory)
USUAL_SPECIES = "tonewood spruce"  # of tops and bars, where nothing else is said
_MODULI = ("E_R", "E_T", "G_LR", "G_LT", "G_RT")
_RATIOS = ("nu_LR", "nu_LT", "nu_RT")


@cache
def _table() -> pd.DataFrame:
    table = pd.read_csv(data_path("wood", "species.csv"), index_col="species")
    table["E_L_GPa"] = table["E_L_GPa"].fillna(MOE_TO_E_L * table["moe_GPa"])
    return table


def species_table(use: str | None = "top") -> pd.DataFrame:
    """Handbook rows, one per species, index ``species``; every row names its source.

    Parameters
    ----------
    use : {"top", "body"} or None
        Woods of tops and bars, woods of the rest of the body, or all.

    Returns
    -------
    DataFrame
        Columns ``for``, ``density_kg_m3``, ``moe_GPa`` (tabulated static bending at span/depth 14, where
        there is one), ``E_L_GPa`` (1.10 of it, or as measured), the ratios ``E_R/E_L`` ... ``G_RT/E_L``,
        the major Poisson ratios, ``cov_*`` (spread between boards as coefficient of variation) and
        ``source``.
    """
    table = _table()
    return table.copy() if use is None else table[table["for"] == use].copy()


def from_species(
    name: str, density: float | None = None, E_L: float | None = None, **measured: float
) -> Orthotropic:
    """Wood of a species, with measured constants where there are some.

    Constants that were not measured follow the species' ratios to ``E_L``. If ``E_R`` was measured but
    ``E_T`` was not, ``E_T`` keeps its ratio to ``E_R``; ``G_LT`` likewise follows a measured ``G_LR``.

    Parameters
    ----------
    name : str
        Row of :func:`species_table`.
    density : float, optional
        kg/m3.
    E_L : float, optional
        Pa. Without it the species' own, in proportion to density (at a constant speed of sound).
    **measured : float
        Any of ``E_R, E_T, G_LR, G_LT, G_RT`` (Pa), ``nu_LR, nu_LT, nu_RT``; None counts as not measured.

    Raises
    ------
    ValueError
        If the species or the constant is unknown, or the result is no sound material.
    """
    table = _table()
    if name not in table.index:
        msg = f"species {name!r} is not in the table; choose one of {', '.join(table.index)}"
        raise ValueError(msg)
    measured = {k: v for k, v in measured.items() if v is not None}
    unknown = sorted(set(measured) - set(_MODULI + _RATIOS))
    if unknown:
        msg = (
            f"unknown constant {', '.join(unknown)}; allowed are density, E_L, {', '.join(_MODULI + _RATIOS)}"
        )
        raise ValueError(msg)
    row = table.loc[name]
    usual = float(row["density_kg_m3"])
    known = [k for k, v in (("density", density), ("E_L", E_L)) if v is not None] + list(measured)
    rho = usual if density is None else density
    stiffness = float(row["E_L_GPa"]) * 1e9 * rho / usual if E_L is None else E_L
    c = {k: float(row[f"{k}/E_L"]) * stiffness for k in _MODULI}
    for lead, follower in (("E_R", "E_T"), ("G_LR", "G_LT")):
        if lead in measured:
            c[follower] *= measured[lead] / c[lead]
    c |= {k: float(row[k]) for k in _RATIOS} | measured
    source = row["source"] + (f"; measured: {', '.join(known)}" if known else "")
    return Orthotropic(name=name, density=rho, E_L=stiffness, source=source, **c)


def species_of(wood: Orthotropic) -> str:
    """Return the species that a wood is named after; the usual one where its name is none."""
    return wood.name if wood.name in species_table().index else USUAL_SPECIES


def spread_of_stiffness(wood: Orthotropic) -> float:
    """Coefficient of variation of E_L between boards of the species that a wood is named after."""
    return float(species_table().loc[species_of(wood), "cov_E_L"])
