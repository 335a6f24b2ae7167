"""Where the strain energy of a mode lies: in which elastic constant, the bar, stretching or bending."""

import numpy as np
import pandas as pd

from platemodel.fem.section import stiffness
from platemodel.fem.strains import PointMaterial, strains
from platemodel.study.top.meshed_top import MeshedTop
from platemodel.study.top.plate_modes import PlateModes

MODULI = ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT")


def energy_shares(model: MeshedTop, vectors: np.ndarray, frequencies: np.ndarray) -> pd.DataFrame:
    """Shares of each mode's strain energy.

    Parameters
    ----------
    vectors : array (n_dofs, k)
        Mass-normalised shapes in the shell's DOFs, as in `PlateModes.vectors`.
    frequencies : array (k,)
        Hz.

    Returns
    -------
    DataFrame
        A row a mode: ``E_L``, ``E_R``, ``E_T``, ``G_LR``, ``G_LT``, ``G_RT`` of the top's wood, and ``bar``;
        each row sums to 1.

    Notes
    -----
    The share of a modulus is the derivative of the energy at fixed strain by its logarithm, over the energy:
    twice the relative change of frequency per relative change of the modulus (Rayleigh's principle, e.g.
    Rayleigh, Theory of Sound, 1894, section 88, from memory). The energy is of first degree in the moduli at
    fixed Poisson ratios, so the shares of the top sum to its part of the whole; what is left of the squared
    circular frequency is the bar's.
    """
    wood = model.top.wood
    table = strains(model.shell, vectors)
    changes = wood.compliance_by_logs()
    material = PointMaterial(model.shell, wood.compliance())
    energy = table.energy_by_compliance(material, [changes[name] for name in MODULI])
    shares = energy / (2.0 * np.pi * np.asarray(frequencies)) ** 2
    out = pd.DataFrame(shares.T, columns=list(MODULI))
    rest = 1.0 - out.sum(axis=1)
    out["bar"] = np.where(np.abs(rest) < 1e-6, 0.0, rest)
    return out


def stretch_shares(modes: PlateModes) -> pd.DataFrame:
    """Shares of each mode's strain energy in stretching, bending and transverse shear of the plate.

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
    parts = found.energy_parts(stiffness(shell.section, shell.quadrature.axes, shell.thickness))
    out = modes.table[["mode", "name", "f_hz"]].copy()
    out[["stretch", "bend", "shear"]] = (parts / parts.sum(axis=0)).T
    return out
