"""Closing a gap, elastic seat, conduction, thermal properties.

Timoshenko & Gere, Mechanics of Materials. Hetenyi, Beams on Elastic Foundation, 1946. Carslaw & Jaeger,
Conduction of Heat in Solids, 1959. Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, 1996. Forest
Products Laboratory, Wood Handbook, FPL-GTR-190, 2010.
"""

import pytest

from tests.published.cases.glue import CASES


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.id)
def test_published_values(case):
    case.check()
