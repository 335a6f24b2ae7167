"""Ribs of the stiffened cases: glued on their width, or joined along a line as classical theory has it."""

from dataclasses import replace

import numpy as np
from scipy import sparse

from platemodel.fem.rib import Rib, RibWood
from platemodel.fem.seat import Seat
from platemodel.fem.shell import Shell
from platemodel.fem.surface import flat
from tests.published.cases.models import lines_mesh, section

NARROW = 20.0  # how much narrower a rib joined along a line is made; 10 instead changes f by up to 0.06 %


def rows_about(width, cells, middle, rib_width, line=False, rim=None):
    """Mesh lines across a plate, rows along a rib (or a line) and, if wanted, at the rim (m from it)."""
    even = np.linspace(0.0, width, cells + 1)
    offset = rib_width * (np.array([0.1, 0.4]) if line else np.array([0.5, 1.6]))
    clear = even[np.abs(even - middle) > 1.4 * offset.max()]
    return with_rim(np.concatenate([clear, middle - offset, middle + offset]), rim)


def with_rim(lines, rim):
    """Sorted mesh lines, with one more near each end."""
    lines = np.sort(lines)
    return lines if rim is None else np.sort(np.append(lines, [lines[0] + rim, lines[-1] - rim]))


def ribbed_shell(wood, thickness, x, y, shear=False):
    """Flat plate on given mesh lines."""
    return Shell(lines_mesh(x, y), flat(), section(wood, thickness), shear=shear)


def glued(shell, wood, start, end, width, height, shear=True, side=-1):
    """Rib as the package uses it."""
    return Rib(
        Seat(shell, start, end, width, side), height, RibWood(wood.compliance(), wood.density), shear=shear
    )


class TorsionRod:
    """Saint-Venant torsion of a rib that is joined along a line; goes beside the rib in a system."""

    n_own = 0

    def __init__(self, seat, stiffness):
        self.seat, self.rigidity = seat, stiffness

    def matrices(self, n_dofs, offset):
        """Stiffness of the twist and no mass, in a system's DOFs."""
        return self.stiffness(n_dofs, offset), sparse.csc_matrix((n_dofs, n_dofs))

    def stiffness(self, n_dofs, offset):
        """Stiffness alone."""
        rows = self.seat.rows["twist"]
        k = (rows.T @ sparse.diags(self.rigidity * self.seat.weights) @ rows).tocoo()
        return sparse.csc_matrix((k.data, (k.row, k.col)), shape=(n_dofs, n_dofs))


def line_joined(shell, wood, start, end, width, height, side=-1):
    """Rib of classical theory: Euler-Bernoulli, joined along a line, Saint-Venant torsion of its own.

    The width is divided by ``NARROW`` and the wood made stiffer and heavier by as much: stretching, upright
    bending and mass stay what they are, and sideways bending vanishes.
    """
    fields = ("density", "E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT")
    dense = replace(wood, **{f: NARROW * getattr(wood, f) for f in fields})
    seat = Seat(shell, start, end, width / NARROW, side)
    rib = Rib(seat, height, RibWood(dense.compliance(), dense.density), shear=False, glued_width=False)
    return rib, TorsionRod(seat, rectangle_torsion(width, height, wood.G_LR, wood.G_LT))


def rectangle_torsion(width, height, G_across, G_upright):
    """Torsional stiffness (N m2) of a rectangle whose shear moduli (Pa) differ in its two directions.

    Series for the isotropic rectangle (Timoshenko & Goodier, Theory of Elasticity, art. 109) after stretching
    the width by sqrt(G_upright / G_across) (Lekhnitskii, Theory of Elasticity of an Anisotropic Body).
    """
    stretch = np.sqrt(G_across / G_upright)
    short, long = sorted((width / stretch, height))
    odd = np.arange(1, 60, 2)
    tail = 192 / np.pi**5 * short / long * np.sum(np.tanh(odd * np.pi * long / (2 * short)) / odd**5)
    return G_across * stretch * long * short**3 * (1 - tail) / 3
