"""How much of a mode's energy stretches the plate, and how much bends it."""

import numpy as np
import pandas as pd

from platemodel.fem.section import stiffness
from platemodel.fem.strains import strains
from platemodel.study.top.plate_modes import PlateModes


def stretch_shares(modes: PlateModes) -> pd.DataFrame:
    """Shares of each mode's strain energy in stretching, bending and transverse shear of the plate.

    Parameters
    ----------
    modes : PlateModes

    Returns
    -------
    DataFrame
        A row a mode: ``mode``, ``name``, ``f_hz``, ``stretch``, ``bend``, ``shear``; of the plate's own
        energy (a bar left out), so that a row sums to 1.

    Notes
    -----
    Stretching is the strain of the midsurface, bending its change of curvature (Koiter's shell). On a flat
    plate the low modes do not stretch it.
    """
    shell = modes.model.shell
    found = strains(shell, modes.vectors)
    stiff = stiffness(shell.section, shell.quadrature.axes, shell.thickness)
    shear = found.shear - np.einsum("nij,njk->nik", stiff.tilt, found.membrane)
    parts = {
        "stretch": _energy(shell.area_weights, stiff.membrane, found.membrane),
        "bend": _energy(shell.area_weights, stiff.bending, found.bending),
        "shear": _energy(shell.area_weights, stiff.shear, shear),
    }
    whole = sum(parts.values())
    out = modes.table[["mode", "name", "f_hz"]].copy()
    for name, part in parts.items():
        out[name] = part / whole
    return out


def _energy(area, stiff, strain):
    """Twice the energy of each shape: (k,)."""
    return np.einsum("n,nik,nij,njk->k", area, strain, stiff, strain, optimize=True)
