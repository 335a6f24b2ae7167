"""Supports that stand for the ribs under the rim of a top."""

import numpy as np

from platemodel.fem.rib import Rib
from platemodel.fem.supports import edge_spring, hold
from platemodel.fem.system import System
from platemodel.study.top.meshed_top import MeshedTop, outer_facets

RIMS = ("sliding", "held")
_DRIFT = 1e-6  # of the plate's own stiffness: keeps a sliding rim from drifting away


def rim_supports(model: MeshedTop, rim: str) -> tuple:
    """Rim held upright and free to tilt (hinged), in its plane sliding or held.

    Parameters
    ----------
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
    return model.kept.get(("rim", rim), lambda: _supports(model, rim))


def rim_system(model: MeshedTop, rim: str, ribs: tuple[Rib, ...] = ()) -> System:
    """Return the shell held at its rim, with ribs; what does not depend on them is worked out once.

    The parameters are those of `rim_supports`.
    """
    bare = model.answers.get(("rim system", rim), lambda: System(model.shell, (), rim_supports(model, rim)))
    return bare.with_ribs(ribs)


def _supports(model, rim):
    shell, facets = model.shell, outer_facets(model)
    if rim == "held":
        return (hold(shell, facets),)
    soft = _DRIFT * shell.reference_stiffness / model.top.outline.body_length**3
    upright = hold(shell, facets, [[0.0, 0.0, 1.0]])
    return (upright, *(edge_spring(shell, facets, axis, soft) for axis in np.eye(3)[:2]))
