"""The Argyris triangle: Argyris, Fried & Scharpf, Aeronaut. J. 72, 1968, 701-709. It holds every quintic,
and is C1.
"""

import numpy as np
import pytest
from skfem import Basis, BilinearForm, ElementTriArgyris, asm
from skfem.helpers import dd, ddot

from platemodel.fem.argyris import LocalArgyris, argyris_dofs
from platemodel.fem.mesh import rectangle
from platemodel.fem.shell import Shell
from platemodel.fem.surface import flat
from tests.fields import interpolate, polynomial
from tests.published.cases.models import ALUMINIUM, section

INNER = np.array([[0.2, 0.5, 0.15], [0.3, 0.2, 0.7]])  # points of the reference triangle


def _thin(mesh):
    return Shell(mesh, flat(), section(ALUMINIUM, 1e-3), shear=False)


def _evaluate(shell, dofs):
    """Points (2, n) and value, gradient, second derivatives (6, n) of a scalar field."""
    elements = np.arange(shell.mesh.t.shape[1])
    reference = np.broadcast_to(INNER[:, None], (2, len(elements), 3))
    station = shell.station(reference, elements)
    nodal = dofs[shell.element_dofs[station.elements][:, :21]]
    return station.points, np.einsum("dnk,nk->dn", station.c1, nodal)


@pytest.mark.parametrize("powers", [(0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2)])
def test_fine_mesh_far_from_the_origin_keeps_curvature(powers):
    """Triangles of 10 mm, 0.8 m from the origin, as at the far end of a cello: second derivatives to 1e-9.

    Rounding of the values alone is eps x value / size^2 = 2e-16 x 0.6 / 1e-4 = 1e-12; inverting the
    triangle's matrix takes two digits more.
    """
    shell = _thin(rectangle(0.1, 0.1, 10, 10, origin=(0.7, 0.2)))
    f = polynomial({powers: 1.0})
    points, found = _evaluate(shell, interpolate(shell, f))
    exact = f(*points)
    assert found[0] == pytest.approx(exact[0], rel=1e-12)
    assert found[1:3] == pytest.approx(exact[1:3], rel=1e-11, abs=1e-11)
    assert found[3:] == pytest.approx(exact[3:], rel=1e-9, abs=1e-9)


def test_quintics_are_exact():
    """Every polynomial of degree 5, on irregular triangles (diagonals alternate, points shifted)."""
    mesh = rectangle(1.0, 0.7, 4, 3)
    inner = np.setdiff1d(np.arange(mesh.p.shape[1]), mesh.boundary_nodes())
    p = mesh.p.copy()
    p[:, inner] += 0.05 * np.random.default_rng(2).uniform(-1, 1, (2, len(inner)))
    shell = _thin(type(mesh)(p, mesh.t))
    rng = np.random.default_rng(3)
    f = polynomial({(i, j): rng.uniform(-1, 1) for i in range(6) for j in range(6 - i)})
    points, found = _evaluate(shell, interpolate(shell, f))
    assert found == pytest.approx(f(*points), rel=1e-9, abs=1e-9)


def test_sextics_are_not_exact():
    """The interpolation error of x^6 falls with the sixth power of the size for values, the fourth for
    curvature.
    """
    f = polynomial({(6, 0): 1.0, (3, 3): 1.0})
    errors = []
    for cells in (4, 8):
        shell = _thin(rectangle(1.0, 1.0, cells, cells))
        points, found = _evaluate(shell, interpolate(shell, f))
        off = np.abs(found - f(*points))
        errors.append((off[0].max(), off[3:].max()))
    rates = np.log2(np.array(errors[0]) / errors[1])
    assert 5.5 < rates[0] < 6.5
    assert 3.5 < rates[1] < 4.5


def test_value_and_slope_are_continuous_across_sides():
    """Any DOFs at all: the two triangles of an inner side agree in value and gradient along it."""
    shell = _thin(rectangle(1.0, 0.8, 3, 2))
    dofs = np.random.default_rng(4).standard_normal(shell.n_dofs)
    mesh = shell.mesh
    inner = np.flatnonzero(mesh.f2t[1] >= 0)
    start, stop = mesh.p[:, mesh.facets[0, inner]], mesh.p[:, mesh.facets[1, inner]]
    where = start[:, :, None] + (stop - start)[:, :, None] * np.array([0.13, 0.5, 0.81])
    found = []
    for side in mesh.f2t[:, inner]:
        station = shell.station(mesh.mapping().invF(where, tind=side), side)
        found.append(np.einsum("dnk,nk->dn", station.c1, dofs[shell.element_dofs[station.elements][:, :21]]))
    scale = np.abs(found[0]).max(axis=1)
    jump = np.abs(found[0] - found[1]).max(axis=1) / scale
    assert jump[:3].max() < 1e-12
    assert jump[3:].max() > 1e-3  # second derivatives are continuous at the vertices only


def test_same_matrix_as_the_library_s_element():
    """Near the origin on a coarse mesh the stock element has its digits: the biharmonic matrices agree.

    The library may point the normal of a side the other way; that is found from the rows and undone.
    """
    mesh = rectangle(2.0, 2.0, 2, 2, origin=(-1.0, -1.0))

    @BilinearForm
    def biharmonic(u, v, w):
        return ddot(dd(u), dd(v))

    ours, stock = (
        asm(biharmonic, Basis(mesh, e, intorder=8)).toarray()
        for e in (LocalArgyris(mesh), ElementTriArgyris())
    )
    sides = argyris_dofs(mesh).facet_dofs[0]
    sign = np.ones(len(ours))
    sign[sides] = np.sign((ours * stock)[sides][:, : sides[0]].sum(axis=1))
    assert np.all(sign != 0)
    assert ours * np.outer(sign, sign) == pytest.approx(stock, rel=1e-9, abs=1e-9 * np.abs(stock).max())
