"""Four free spruce plates, measured.

Badiane et al., J. Acoust. Soc. Am., 2023: sizes, masses, fitted constants and impulse records of
rectangular spruce plates. The constants come from the same plates, so this checks plate theory and the
naming of modes by shape.
"""

import numpy as np
import pytest

from tests.published.cases.measured_plates import CASES


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.id)
def test_published_values(case):
    case.check()


def test_no_bias_over_the_plates():
    """Four plates of different wood: the mean difference must stay below what one plate may be off (3 %)."""
    mean = np.mean([case.deviation for case in CASES], axis=0)
    assert np.abs(mean).max() < 0.015
