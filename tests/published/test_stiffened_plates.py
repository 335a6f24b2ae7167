"""Plates with an eccentric rib.

Aksu, J. Appl. Mech. 49, 1982, 217-221. Mukherjee & Mukhopadhyay, Comput. Struct. 30, 1988, 1303-1317. Harik
& Guo, Comput. Struct. 49, 1993, 1007-1015. Olson & Hazell, J. Sound Vib. 50, 1977, 43-61. Rossow &
Ibrahimkhail, Comput. Struct. 8, 1978, 51-60. The published numbers are quoted from memory; beside them
stand a Ritz model and solid elements.
"""

import numpy as np
import pytest

from tests.published.cases.stiffened import CASES


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.id)
def test_published_values(case):
    case.check()


def _case(name):
    return next(case for case in CASES if case.id == name)


def test_mean_difference_from_the_experiment():
    """Olson & Hazell's own analysis is 3.5 % from their experiment in the mean; a better one must not be
    worse.
    """
    assert np.mean(np.abs(_case("E2").deviation)) < 0.035


def test_in_plane_edges_matter():
    """The rib's eccentricity acts through the plane of the plate: with immovable edges the plate of E7
    sinks 10.5 to 12 % less than with diaphragms or free ones (Ritz model: 3.109, 3.473, 3.534).
    """
    immovable, diaphragms, free = (_case(f"E7-{k}").computed[0] for k in ("immovable", "diaphragms", "free"))
    assert immovable / diaphragms == pytest.approx(3.109 / 3.473, rel=2e-3)
    assert immovable / free == pytest.approx(3.109 / 3.534, rel=2e-3)


def test_glued_width_moves_the_bar_towards_solids():
    """Solids against the line-joined theory: +0.8 to +3.2 % in the twist mode of a free plate, which the
    glued width must recover to within 1 % (aluminium plate E3, where the gap is largest).
    """
    line, glued, solids = _case("E3-ritz").computed, _case("E3-solid").computed, _case("E3-solid").published
    assert solids[0] / line[0] > 1.03
    assert abs(glued[0] / solids[0] - 1) < 0.01
