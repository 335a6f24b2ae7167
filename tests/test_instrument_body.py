"""The rest of the body: usual figures, ribs, blocks, back."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from platemodel.errors import GeometryError
from platemodel.instrument.body import usual_body
from platemodel.instrument.body_dimensions import body_dimensions
from platemodel.instrument.presets import preset_top


@pytest.fixture(scope="module")
def violin():
    return preset_top("violin")


@pytest.mark.parametrize("kind", ["violin", "viola", "cello"])
def test_every_figure_has_a_status(kind):
    dims = body_dimensions(kind)
    assert set(dims.status()) == set(vars(dims)) - {"kind"}
    assert all(len(text) > 10 for text in dims.status().values())


def test_a_smaller_body_is_smaller_all_over():
    """Lengths go with the body, the head's mass with its cube."""
    whole, half = body_dimensions("violin", 0.355), body_dimensions("violin", 0.310)
    r = 0.310 / 0.355
    assert half.rib_lower == pytest.approx(r * whole.rib_lower)
    assert half.head_mass == pytest.approx(r**3 * whole.head_mass)
    with pytest.raises(ValueError, match="check the unit"):
        body_dimensions("violin", 3.55)


def test_back_weighs_what_backs_weigh(violin):
    """A violin's back weighs some 90 to 130 g without varnish (common practice, no source)."""
    back = usual_body(violin).back_as_top("violin")
    assert 0.085 < back.mass_estimate() < 0.130
    assert back.outline is violin.outline


def test_rim_line_lies_in_the_middle_of_the_ribs(violin):
    """Counter-clockwise, overhang and half a rib inside the outline (straight parts to 0.01 mm)."""
    body = usual_body(violin)
    line = body.rim_line(240)
    assert shapely.LinearRing(line.T).is_ccw
    depth = body.ribs.overhang + 0.5 * body.ribs.thickness
    gap = shapely.distance(shapely.points(line.T), shapely.LinearRing(violin.outline.points))
    assert gap.min() > depth - 1e-5
    assert np.median(gap) == pytest.approx(depth, abs=1e-5)


def test_six_blocks_inside_the_ribs(violin):
    body = usual_body(violin)
    assert len(body.footprints) == 6
    for shape in body.footprints.values():
        assert body.inside.buffer(1e-9).contains(shape)
        assert shape.area > 50e-6
    assert len(usual_body(violin, corner_block=0.0).footprints) == 2


def test_given_figures_are_not_usual(violin):
    body = usual_body(violin, rib_lower=33e-3)
    assert body.ribs.lower == 33e-3
    assert "rib_lower" not in body.usual
    assert "rib_upper" in body.usual


def test_ribs_that_cannot_be_are_refused(violin):
    ribs = usual_body(violin).ribs
    with pytest.raises(GeometryError, match=r"linings 2 by 20 mm do not fit twice into ribs of 30 mm"):
        replace(ribs, lining_height=20e-3)
    with pytest.raises(GeometryError, match="positive"):
        replace(ribs, thickness=0.0)
