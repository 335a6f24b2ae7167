"""A whole top with its bar, in the hand: a free body has six rigid motions, and weighs what its wood
weighs.
"""

import numpy as np
import pytest
import shapely
from scipy.integrate import trapezoid

from platemodel.errors import NeedleError
from platemodel.fem import argyris
from platemodel.fem.system import System
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.study.top.meshed_top import bar_rib
from platemodel.study.top.model import top_model


@pytest.fixture(scope="module")
def violin():
    top = preset_top("violin")
    bar = preset_bar(top)
    model = top_model(top, fineness=0.7, bar=bar)
    return top, bar, model, bar_rib(model, bar)


def test_a_needle_is_told_by_the_table_of_the_job_that_makes_it(monkeypatch):
    """With half of an equilateral triangle's height as the limit the flattest one of the mesh is a needle."""
    monkeypatch.setattr(argyris, "FLATTEST", 0.43)
    top = preset_top("violin")
    with pytest.raises(NeedleError) as refused:
        top_model(top, 0.4)
    x, y = refused.value.place
    shapes = {f"sound_holes.{h.side}": h.polygon.exterior for h in top.sound_holes}
    shapes |= {"outline": top.outline.polygon.exterior, "bar": preset_bar(top).polygon}
    nearest = min(shapes, key=lambda name: shapes[name].distance(shapely.Point(x, y)))
    said = str(refused.value)
    assert said.startswith(f"near ({1e3 * x:.1f}, {1e3 * y:.1f}) mm a triangle of the mesh")
    assert f"In job.toml look at [{nearest}]" in said
    assert said.endswith("another fineness than 0.4")


def test_six_rigid_motions(violin):
    """Rotations about any axis and translations: below 1e-3 of the first elastic frequency, and no seventh.

    The rigid motions are taken out of the search, so a seventh would be found as a first mode near 0; a
    usual top with bar has its first mode near 90 Hz (common practice, no source), between 60 and 130.
    """
    _, _, model, rib = violin
    found = System(model.shell, (rib,)).modes(6)
    assert found.rigid.shape == (6,)
    assert np.sqrt(np.abs(found.rigid).max()) < 1e-3 * np.sqrt(found.omega2[0])
    assert 60 < found.frequencies[0] < 130


def test_rigid_motions_are_eigenvectors(violin):
    """K r = 0 for each of them by itself, the bar's shear field included: no force anywhere, against a
    mode's force.
    """
    _, _, model, rib = violin
    system = System(model.shell, (rib,))
    stiffness, mass = system.matrices
    rigid = system.rigid_motions()
    rigid = rigid / np.sqrt(np.einsum("ij,ij->j", rigid, mass @ rigid))
    first = system.modes(1)
    energy = np.abs(np.einsum("ij,ij->j", rigid, stiffness @ rigid))
    assert energy.max() < 1e-6 * first.omega2[0]


def test_mass_of_the_top(violin):
    """Density times thickness times area of the midsurface, summed over a fine grid of the traced plan: 0.1
    %.

    The grid's own error is 0.03 % (halving it moves the sum by as much); the mesh has straight sides that
    keep the plan's area.
    """
    top, _, model, _ = violin
    plan = shapely.Polygon(top.outline.points, [hole.points for hole in top.sound_holes])
    low_x, low_y, high_x, high_y = plan.bounds
    pitch = 0.5e-3
    x, y = np.meshgrid(
        np.arange(low_x + pitch / 2, high_x, pitch), np.arange(low_y + pitch / 2, high_y, pitch)
    )
    inside = shapely.contains_xy(plan, x, y)
    x, y = x[inside], y[inside]
    slope = top.midsurface().derivatives(x, y)[1:3]
    volume = pitch**2 * np.sum(top.thickness.value(x, y) * np.sqrt(1 + (slope**2).sum(axis=0)))
    assert model.mass == pytest.approx(top.wood.density * volume, rel=1e-3)


def test_mass_of_the_bar(violin):
    """Density times width times the upright height, along the axis in plan, as the bar is measured: 1 %.

    The rib follows the arched seat, so its length is that of the arc and its middle runs below it; both are
    of the order of height/radius and slope squared.
    """
    _, bar, model, rib = violin
    x = np.linspace(bar.x_start, bar.x_end, 2001)
    plan = np.hypot(bar.x_end - bar.x_start, bar.y_end - bar.y_start) / (bar.x_end - bar.x_start)
    mass = bar.wood.density * bar.width * trapezoid(bar.height(x), x) * plan * bar.section_fill
    assert rib.mass == pytest.approx(mass, rel=1e-2)
    translation = System(model.shell, (rib,)).rigid_motions()[:, 2]
    _, added = rib.matrices(model.shell.n_dofs + rib.n_own, model.shell.n_dofs)
    assert translation @ (added @ translation) == pytest.approx(mass, rel=1e-2)
