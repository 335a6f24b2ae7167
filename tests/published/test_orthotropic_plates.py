"""Orthotropic plates.

Leissa, Vibration of Plates, NASA SP-160, 1969, ch. 9. Timoshenko & Woinowsky-Krieger, Theory of Plates and
Shells, 1959, art. 11 (twist by corner forces) and 85. Jones, Mechanics of Composite Materials, 1975, ch. 2
(off-axis modulus). Free and clamped spruce plates: computed independently by a Ritz model and by solid
elements.
"""

import pytest

from tests.published.cases.orthotropic import CASES


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.id)
def test_published_values(case):
    case.check()
