"""Strings, stresses, strengths.

Mersenne; Hart, The Violin, 1875. Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 1959.
Timoshenko & Gere, Mechanics of Materials. EN 1995-1-1:2004. Forest Products Laboratory, Wood Handbook,
FPL-GTR-190, 2010. Wood, Forest Products Laboratory report 1916, 1951.
"""

import numpy as np
import pytest

from tests.published.cases.loads import CASES, MM, PRESS, SPAN, STRIP, WIDE, t_beam, t_section


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.id)
def test_published_values(case):
    case.check()


@pytest.fixture(scope="module")
def beam():
    return t_beam()[1]


def test_forces_of_the_bar_all_along_the_beam(beam):
    """N = M Q / I and the bar's own moment M I_bar / I, away from load and ends by more than the depth."""
    inertia, _, first = t_section()
    inside = (np.abs(beam.s - SPAN / 2) > 40 * MM) & (beam.s > 40 * MM) & (beam.s < SPAN - 40 * MM)
    moment = PRESS / 2 * np.minimum(beam.s, SPAN - beam.s)[inside]
    # 1 % of the largest: the fitted line evens out what the coarse mesh rounds
    assert beam.axial[inside] == pytest.approx(moment * first / inertia, abs=0.01 * beam.axial.max())
    own = WIDE * (12 * MM) ** 3 / 12 / inertia
    assert beam.moment[inside] == pytest.approx(moment * own, abs=0.01 * beam.moment.max())


def test_peel_where_the_bar_hangs_on_the_supported_end(beam):
    """The strip rests on the knife edge and the bar hangs on the strip by its share F of the support's force.

    Its moment about the glue line then grows as C = F s from the end, so the pressure that is linear over the
    length l pulls with 6 C / (w l^2) - 2 F / (w l) = 4 F / (w l) at the very end.
    """
    inertia, _, first = t_section()
    share = PRESS / 2 * (first * 6 * MM + WIDE * (12 * MM) ** 3 / 12) / inertia
    for end in beam.ends:
        assert end.couple == pytest.approx(share * end.length, rel=0.02)
        # 3 %: the slope of the couple near the end is fitted over a few triangles
        assert end.peel == pytest.approx(4 * share / (WIDE * end.length), rel=0.03)


def test_a_bar_on_the_other_face_is_the_mirror_image(beam):
    """Seen upside down: the same push stretches where it pressed; the moment keeps its sign."""
    shell, other, _ = t_beam(side=1)
    assert other.axial == pytest.approx(-beam.axial, abs=1e-6 * beam.axial.max())
    assert other.moment == pytest.approx(beam.moment, abs=1e-6 * beam.moment.max())
    assert other.glue_shear == pytest.approx(-beam.glue_shear, abs=1e-6 * beam.glue_shear.max())
    assert [e.peel for e in other.ends] == pytest.approx([-e.peel for e in beam.ends], rel=1e-5)
    assert shell.mesh.p[1].max() == pytest.approx(STRIP)
