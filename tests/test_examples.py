"""The examples run as they stand, and what they find agrees with sources outside the project."""

import runpy
from pathlib import Path

import numpy as np
import pytest

EXAMPLES = Path(__file__).parent / "examples"
NAMES = ("free_plate", "shell_roof", "stiffened_plate")


@pytest.fixture(scope="module")
def found():
    return {name: runpy.run_path(str(EXAMPLES / f"{name}.py")) for name in NAMES}


def test_every_example_is_tried():
    assert sorted(p.stem for p in EXAMPLES.glob("*.py")) == list(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_example_is_short(name):
    """Some 15 lines of work: what is longer explains too many things at once."""
    lines = (EXAMPLES / f"{name}.py").read_text(encoding="utf-8").splitlines()
    assert len([line for line in lines if line.strip()]) <= 28


def test_free_plate(found):
    """Accurate thin-plate values of omega a^2 sqrt(rho h / D) for nu = 0.3 (case P1 of docs/verification.md).

    At h/a = 0.01 shear and rotary inertia take off some 0.2 % of the sixth, so 0.5 %.
    """
    own = found["free_plate"]
    stiffness = 70e9 * own["thickness"] ** 3 / (12 * (1 - 0.3**2))
    unit = np.sqrt(stiffness / (2700 * own["thickness"])) / own["side"] ** 2
    exact = [13.468, 19.596, 24.270, 34.801, 34.801, 61.093]
    assert np.sqrt(own["modes"].omega2) / unit == pytest.approx(exact, rel=5e-3)


def test_shell_roof(found):
    """Scordelis & Lo, ACI J. 61, 1964: 0.3024 (from memory); converged analyses give 0.3006 to 0.3024."""
    assert found["shell_roof"]["edge"] == pytest.approx(0.3024, rel=1e-2)


def test_stiffened_plate(found):
    """Clamped plate of Olson & Hazell, J. Sound Vib. 50, 1977, with the rib on its width, by 20-node solids
    (case E2-solid of docs/verification.md, same tolerance). A uniform pressure on half the plate, clamped
    along three sides and held by the rib along the fourth, bends it about as a clamped strip of that width
    would bend, w = q b^4 / 384 D, and less, because the short sides help.
    """
    own = found["stiffened_plate"]
    solids = [742.4, 785.2, 1019, 1034, 1435, 1441]
    assert own["modes"].frequencies == pytest.approx(solids, rel=3e-2)
    strip = 1e3 * (own["side"] / 2) ** 4 / (384 * 68.7e9 * 1.37e-3**3 / (12 * (1 - 0.29**2)))
    assert 0.5 < own["sunk"] / strip < 1.3
