"""How deep a cut has to go before something falls to what is wanted, or can no longer be told."""

import numpy as np

JUMP = 0.03  # relative change from one depth to the next that only a change of shape explains


def recognised_to(depths: np.ndarray, f: np.ndarray) -> float:
    """Depth up to which a mode can be followed: it is named there, and its pitch does not jump."""
    step = np.abs(np.diff(np.log(f)))
    broken = np.flatnonzero(~(step <= JUMP))
    return float(depths[broken[0]]) if len(broken) else np.inf


def reach(depths: np.ndarray, values: np.ndarray, wanted: float) -> float:
    """Depth at which falling values first come down to what is wanted; infinite if they do not."""
    below = np.flatnonzero(values <= wanted)
    if not len(below):
        return np.inf
    k = int(below[0])
    if k == 0:
        return 0.0
    share = (values[k - 1] - wanted) / (values[k - 1] - values[k])
    return float(depths[k - 1] + share * (depths[k] - depths[k - 1]))
