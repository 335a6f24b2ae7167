"""Supports that stand for the ribs under the rim of a top."""

from weakref import WeakKeyDictionary

import numpy as np

from platemodel.fem.supports import edge_spring, hold
from platemodel.study.top.model import TopModel, outer_facets

RIMS = ("sliding", "held")
_DRIFT = 1e-6  # of the plate's own stiffness: keeps a sliding rim from drifting away


_KNOWN = WeakKeyDictionary()  # by model, then by rim


def rim_supports(model: TopModel, rim: str) -> tuple:
    """Rim held upright and free to tilt (hinged), in its plane sliding or held.

    Parameters
    ----------
    model : TopModel
    rim : {"sliding", "held"}

    Returns
    -------
    tuple of Constraint or Spring
        The same ones whenever it is asked, so that what is solved for them can be kept.

    Raises
    ------
    ValueError
        Unknown rim.

    Notes
    -----
    Real ribs lie between the two: they give in the plane, and their linings hold a little against tilting.
    """
    if rim not in RIMS:
        msg = f"rim {rim!r}; allowed are {', '.join(RIMS)}"
        raise ValueError(msg)
    known = _KNOWN.setdefault(model, {})
    if rim not in known:
        known[rim] = _supports(model, rim)
    return known[rim]


def _supports(model, rim):
    shell, facets = model.shell, outer_facets(model)
    if rim == "held":
        return (hold(shell, facets),)
    soft = _DRIFT * shell.reference_stiffness / model.top.outline.body_length**3
    upright = hold(shell, facets, [[0.0, 0.0, 1.0]])
    return (upright, *(edge_spring(shell, facets, axis, soft) for axis in np.eye(3)[:2]))
