"""Derivatives of x' (K - omega2 M) x by thickness, height, edge and rib against differences of the matrices
themselves, for vectors that are no modes: what is differentiated is a form, whatever it acts on.

Central differences of assembled matrices, so the source is the matrices, which other tests hold against
closed forms. Steps are relative ones of 1e-3; their third order leaves 1e-6.
"""

import numpy as np
import pytest

from platemodel.fem.gradients import (
    edge_gradient,
    height_coefficients,
    rib_shape_gradient,
    rib_shapes,
    shape_gradient,
    thickness_density,
)
from platemodel.fem.rib import Rib, RibWood
from platemodel.fem.seat import Seat
from platemodel.fem.surface import graph
from platemodel.fem.system import System
from tests.fields import displacement, polynomial
from tests.published.cases.models import SPRUCE, edges, plate

LENGTH, WIDTH, THICK = 0.3, 0.2, 3e-3
OMEGA2 = np.array([0.0, 4e6])  # a deflection, and some 320 Hz
STEP = 1e-3
#: Doubly curved and askew, so that no derivative of the height is nought.
ARCH = polynomial({(2, 0): -0.6, (0, 2): -1.3, (1, 1): 0.9, (3, 0): 1.5, (1, 0): 0.1})
RISE = polynomial({(0, 0): 0.01, (1, 0): 0.2, (0, 1): -0.3, (2, 0): 1.0, (1, 1): 2.0, (0, 2): -1.5})


def uneven(x, y):
    return 1.0 + 0.8 * x - 0.5 * y


def thicker(x, y):
    return 0.3 + x - 2.0 * y


def shell_with(rise=0.0, more=0.0, longer=0.0):
    """Arched plate: higher by a share of RISE, thicker by a share of `thicker`, its far end moved out."""
    return plate(
        SPRUCE,
        lambda x, y: THICK * (uneven(x, y) + more * thicker(x, y)),
        LENGTH + longer,
        WIDTH,
        3,
        2,
        shear=True,
        surface=graph(lambda x, y: ARCH(x, y) + rise * RISE(x, y)),
    )


def smooth(shell):
    """Two shapes with all components, cubics and so exact on any mesh: (n_dofs, 2)."""
    return np.stack(
        [
            displacement(
                shell,
                u=polynomial({(1, 0): 1e-4 * s, (1, 1): 2e-3, (0, 2): -3e-3}),
                v=polynomial({(0, 1): -2e-4, (2, 0): 1e-3 * s, (1, 1): 1e-3}),
                w=polynomial({(0, 0): 1e-3, (2, 0): 0.1, (1, 1): -0.2 * s, (0, 2): 0.15, (3, 0): 0.3}),
            )
            for s in (1.0, -0.7)
        ],
        axis=1,
    )


@pytest.fixture(scope="module")
def shell():
    return shell_with()


@pytest.fixture(scope="module")
def shapes(shell):
    """The same with a ragged shear field on top."""
    out = smooth(shell)
    out[3 * shell.n_c1 :] = 2e-3 * np.random.default_rng(3).normal(size=(2 * shell.n_p2, 2))
    return out


def form(stiffness, mass, x, omega2=OMEGA2):
    """x' (K - omega2 M) x of each column."""
    return np.einsum("ik,ik->k", x, stiffness @ x) - omega2 * np.einsum("ik,ik->k", x, mass @ x)


def difference(of, step=STEP):
    return (of(step) - of(-step)) / (2.0 * step)


@pytest.mark.parametrize("omega2", [OMEGA2, 0.0 * OMEGA2], ids=["moving", "still"])
def test_thickness(shell, shapes, omega2):
    """An uneven change of an uneven thickness. The form is a cubic of it: the step leaves its square, 1e-6,
    times the cube's share.
    """
    grown = shell.area_weights * THICK * thicker(*shell.quadrature.points)

    def of(step):
        other = shell_with(more=step)
        return form(other.K, other.M, shapes, omega2)

    assert grown @ thickness_density(shell, shapes, omega2) == pytest.approx(difference(of), rel=1e-6)


def test_height(shell, shapes):
    """The midsurface higher by a thousandth of a field with every derivative: 1e-5, of which the inner
    differences by slopes and curvatures leave 2e-6 (said where their steps are chosen).
    """
    change = height_coefficients(shell, RISE)

    def of(step):
        other = shell_with(rise=step)
        return form(other.K, other.M, shapes)

    assert change @ shape_gradient(shell, shapes, OMEGA2) == pytest.approx(difference(of), rel=1e-5)


def test_free_edge_moved_out(shell):
    """A plate longer and shorter by 0.1 mm, the same cubics on it: Hadamard's strip. The form goes with up to
    the tenth power of the length, so that the difference leaves 120 / 6 times (1e-4 / 0.3)^2, 2e-6.
    """
    step, end = 1e-4, edges(shell, lambda x, y: x > LENGTH - 1e-9)

    def of(longer):
        other = shell_with(longer=longer)
        return form(other.K, other.M, smooth(other))

    found = edge_gradient(shell, end, smooth(shell), OMEGA2)
    assert found.table.sum(axis=0) == pytest.approx(difference(of, step), rel=2e-6)
    assert found.lengths.sum() == pytest.approx(WIDTH, rel=1e-12)
    assert found.thickness == pytest.approx(THICK * uneven(*found.station.points), rel=1e-12)


def rib_on(seat):
    return Rib(seat, 8e-3 + 4e-3 * seat.fraction, RibWood(SPRUCE.compliance(), SPRUCE.density))


def rib_of(shell):
    return rib_on(Seat(shell, (0.08, 0.07), (0.2, 0.09), 5.5e-3))


def rib_form(rib, x, own):
    n = len(x)
    return form(*rib.matrices(n + rib.n_own, n), np.concatenate([x, own]))


def test_rib(shell, shapes):
    """Its energies at the points sum up to the form of its matrices, by round-off. Their change by the height
    is that of the matrices to 1e-5, whatever the step here; what is left is that one T, of the means along
    the rib, stands for all of it, and that slopes and curvatures have steps of their own: 3e-5.
    """
    rib = rib_of(shell)
    own = 1e-3 * np.random.default_rng(4).normal(size=(rib.n_own, 2))
    found = rib_shapes(rib.seat, shapes, own, OMEGA2).energies(rib)
    assert found.sum(axis=0) == pytest.approx(rib_form(rib, shapes, own), rel=1e-10)
    true = difference(lambda step: rib_form(rib_of(shell_with(rise=step)), shapes, own))
    change = height_coefficients(shell, RISE) @ rib_shape_gradient(rib.seat, rib_on, shapes, own, OMEGA2)
    assert change == pytest.approx(true, rel=3e-5)


def test_even_thickness_scales_a_flat_plate():
    """A thin flat plate: frequency goes as its thickness (Leissa, Vibration of Plates, 1969: omega ~ h), so
    the derivative by thickness everywhere is f/h. The rotary inertia takes 1e-3 off in mode 4 at this
    thickness.
    """
    flat = plate(SPRUCE, 1e-3, 0.3, 0.2, 4, 3, False)
    modes = System(flat).modes(4)
    density = thickness_density(flat, modes.vectors, modes.omega2)
    change = flat.area_weights @ density / (8 * np.pi**2 * modes.frequencies)
    assert change == pytest.approx(modes.frequencies / 1e-3, rel=1e-3)
