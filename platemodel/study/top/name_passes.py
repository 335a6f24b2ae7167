"""Where the name of a mode passes from one tone to another as a bar grows, and no tone jumps."""

import numpy as np
import pandas as pd

from platemodel.study.top.answers import BarResponse

NAMED = (1, 2, 5)


def shared_tones(found: BarResponse) -> dict[str, float]:
    """Tones that have much of the pattern of modes 1, 2 and 5 besides those so named.

    Returns
    -------
    dict of str to float
        ``f1_shared_hz``, ``f2_shared_hz``, ``f5_shared_hz``; NaN where a mode has its pattern to itself.
    """
    rivals = {naming.number: naming.rival for naming in found.namings}
    tones = {n: rivals.get(n) for n in NAMED}
    return {f"f{n}_shared_hz": np.nan if k is None else float(found.frequencies[k]) for n, k in tones.items()}


def name_passes(table: pd.DataFrame, number: int) -> np.ndarray:
    """Tell between which rows of a curve the name goes to the tone that shared the pattern.

    Where two tones come close they trade their shapes (they veer), and of two that share a pattern the one
    with more of it has the name. Each tone by itself is smooth.

    Parameters
    ----------
    table : DataFrame
        ``f5_hz`` and, from `shared_tones`, ``f5_shared_hz`` over bars of growing height; without the latter
        nothing is known to pass.
    number : int
        1, 2 or 5.

    Returns
    -------
    array of bool (rows - 1,)
    """
    named = table[f"f{number}_hz"].to_numpy(dtype=float)
    if f"f{number}_shared_hz" not in table:
        return np.zeros(max(len(named) - 1, 0), dtype=bool)
    other = table[f"f{number}_shared_hz"].to_numpy(dtype=float)
    step = 0.5 * np.abs(np.diff(named))  # a partner no nearer than half way is no sign of anything
    nearer = (np.abs(other[1:] - named[:-1]) < step) | (np.abs(other[:-1] - named[1:]) < step)
    above = np.sign(other - named)  # the partner's side; NaN where there is none
    return nearer & ~(above[1:] == above[:-1])


def in_pieces(x: np.ndarray, y: np.ndarray, parted: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return a curve with a gap wherever ``parted`` (rows - 1,) says so: NaN between the rows."""
    at = np.flatnonzero(parted) + 1
    return tuple(np.insert(np.asarray(v, dtype=float), at, np.nan) for v in (x, y))
