"""A rib's squares on the unknowns of its own fields, of which a point meets three a field."""

from functools import cached_property

import numpy as np

from platemodel.fem.arrays import Floats, Ints
from platemodel.fem.rib import MOTIONS, OWN, STRAINS, Rib
from platemodel.fem.seat import OWN_FIELDS


def own_rows(rib: Rib, names: tuple[str, ...]) -> "OwnRows":
    """Rows of a rib's stiffness (``STRAINS``) or mass (``MOTIONS``), worked out once for all its bases."""

    def made() -> OwnRows:
        plain = sum(name not in OWN for name in names)
        factors = rib.factors[(STRAINS, MOTIONS).index(names)]
        return OwnRows(rib, names[plain:], factors[:, : rib.own_terms[names], plain:])

    return rib.kept.get(names, made)


class OwnRows:
    """What some squares of a rib have on its own unknowns at its n points.

    Parameters
    ----------
    names : sequence of str
        The own rows that the columns of the factors belong to.
    factors : array (n, terms, names)
        As in `Rib.factors`.
    """

    def __init__(self, rib: Rib, names: tuple[str, ...], factors: Floats) -> None:
        nodes, value, slope = rib.seat.own_nodes
        fields = rib.n_own // rib.seat.n_field
        self.terms, self.size = factors.shape[1], rib.n_own
        table = np.zeros((*factors.shape[:2], fields, 3))
        for i, name in enumerate(names):
            if name in rib.own_names:
                entries = slope if name.startswith("d") else value
                table[:, :, OWN_FIELDS.index(name[-1])] += factors[:, :, i, None] * entries[:, None]
        self.table = table.reshape(*factors.shape[:2], 3 * fields)
        unknowns = nodes[:, None] + rib.seat.n_field * np.arange(fields)[:, None]
        self.unknowns = unknowns.reshape(len(nodes), 3 * fields)
        self.first = np.flatnonzero(np.diff(nodes[:, 0], prepend=-1))  # points that begin an element

    def at_points(self, own: Floats) -> Floats:
        """Squares' rows on vectors of the own unknowns (n_own, m): (n, terms, m)."""
        return self.table @ own[self.unknowns]

    def times(self, rows: Floats) -> Floats:
        """Sum over points and terms of own row times other row (n, terms, k): (n_own, k)."""
        out = np.zeros((self.size, rows.shape[2]))
        local = np.swapaxes(self.table, 1, 2) @ rows
        for own, block in zip(*self._by_element(local), strict=True):
            out[own] += block
        return out

    @cached_property
    def gram(self) -> Floats:
        """Sum over points and terms of own row times own row: (n_own, n_own)."""
        out = np.zeros((self.size, self.size))
        for own, block in zip(*self._by_element(np.swapaxes(self.table, 1, 2) @ self.table), strict=True):
            out[np.ix_(own, own)] += block
        return out

    def _by_element(self, local: Floats) -> tuple[Ints, Floats]:
        """Own unknowns of each element along the rib, and the sum of what its points have on them."""
        return self.unknowns[self.first], np.add.reduceat(local, self.first)
