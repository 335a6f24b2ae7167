"""Boundary edges of a mesh by name: the sides of a rectangle, the outer rim, the holes."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from skfem import MeshTri

from platemodel.fem.arrays import Ints

# Name of a side, the parameter that is constant along it, whether it is the parameter's largest value.
SIDES = {"left": (0, False), "right": (0, True), "bottom": (1, False), "top": (1, True)}
NEAR = 1e-9  # of the plan's larger side: how close to the extreme an edge must lie to be on a side


def named_facets(mesh: MeshTri, names: str | Sequence[str]) -> Ints:
    """Boundary edges with one of some names.

    Parameters
    ----------
    names : str or sequence of str
        ``left``, ``right`` (smallest and largest first parameter), ``bottom``, ``top`` (second parameter) for
        straight sides along the parameters; ``outer`` for the whole outer rim, ``holes`` for the rims of all
        holes, ``all`` for both.

    Returns
    -------
    int array (n,)
        Ascending, each edge once.

    Raises
    ------
    ValueError
        A name that does not exist, or that no edge of this mesh has.
    """
    wanted = [names] if isinstance(names, str) else list(names)
    return np.unique(np.concatenate([_facets_of(mesh, name) for name in wanted]))


def _facets_of(mesh: MeshTri, name: str) -> Ints:
    facets = np.asarray(mesh.boundary_facets())
    if name == "all":
        return facets
    if name in ("outer", "holes"):
        chosen = _outer(mesh, facets) == (name == "outer")
    elif name in SIDES:
        axis, largest = SIDES[name]
        extreme = mesh.p[axis].max() if largest else mesh.p[axis].min()
        near = NEAR * float(np.ptp(mesh.p, axis=1).max())
        chosen = np.all(np.abs(mesh.p[axis, mesh.facets[:, facets]] - extreme) <= near, axis=0)
    else:
        msg = f"no edge is called {name!r}; allowed: {', '.join((*SIDES, 'outer', 'holes', 'all'))}"
        raise ValueError(msg)
    if not np.any(chosen):
        why = "there is no hole" if name == "holes" else "its boundary has no straight side there"
        msg = f"the mesh has no edge called {name!r}: {why}; choose edges by a condition instead"
        raise ValueError(msg)
    return facets[chosen]


def _outer(mesh: MeshTri, facets: Ints) -> NDArray[np.bool_]:
    """Which of the boundary edges are on the rim that holds the vertex farthest to the left."""
    neighbours: dict[int, list[int]] = {}
    for a, b in mesh.facets[:, facets].T:
        neighbours.setdefault(int(a), []).append(int(b))
        neighbours.setdefault(int(b), []).append(int(a))
    vertices = np.array(sorted(neighbours))
    reached = {int(vertices[mesh.p[0, vertices].argmin()])}
    ahead = list(reached)
    while ahead:
        new = [v for v in neighbours[ahead.pop()] if v not in reached]
        reached.update(new)
        ahead += new
    return np.isin(mesh.facets[0, facets], list(reached))
