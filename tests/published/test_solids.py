"""Shell and rib against solid elements (20-node bricks of a general-purpose solver).

Source of the reference values: `solids/solid_cases.json`, computed with the script beside it
(solids/README.md); its own error is 0.08 % at most. Modes 1 to 8 of free plates, the wood carved (axes fixed
in space) unless the case says bent.
"""

from functools import cache

import numpy as np
import pytest

from platemodel.fem.supports import hold, hold_point, point_rows
from platemodel.fem.system import System
from tests.published.solid_model import CASES, load_vector, model

# Goals, set before anything was computed: modes 1 to 8 of every plate with a bar, each and in the mean. The
# mesh's own error is some 0.03 %, that of the solids up to 0.036 %, of cases 3y and 11 up to 0.075 %.
FLAT = 0.15
ARCHED = 0.3
MEAN_GOAL = 0.15
# Elements along and across where they are not 12 by 9: the bar of 13 crosses the rows of the mesh, which
# costs 0.05 % in modes 1, 5 and 8.
FINER = {"13": (18, 14)}
# How far each keeps now, in percent, per case and mode; what is not listed keeps within FLAT or ARCHED.
WIDER = {
    # bent grain: its direction is the projected axis here, the tangent of y = const there
    ("6", 1): 0.4,
    ("6", 4): 0.4,
    ("6", 6): 0.25,
}
MODAL = [name for name, case in CASES.items() if "frequencies_hz" in case]
BARRED = [name for name in MODAL if CASES[name]["bar"]]
MEAN = {"2": 0.05, "3": 0.05, "3y": 0.05, "4": 0.03, "8": 0.12, "9": 0.09, "11": 0.05, "12": 0.05, "13": 0.06}
MEAN |= {"15p": 0.03, "15m": 0.03, "16": 0.04, "17": 0.12}  # percent, over modes 1 to 8


@cache
def percent_off(name):
    """Modes 1 to 8 over the solids', less 1, percent."""
    case = CASES[name]
    nx, ny = FINER.get(name, (12, 9))
    ours = System(*model(case, nx, ny)).modes(8).frequencies
    return 100 * (ours / np.array(case["extrapolated_hz"][:8]) - 1)


def wanted(name):
    """Goal of each mode, percent."""
    return ARCHED if CASES[name]["bar"] and CASES[name]["arch"]["kind"] != "flat" else FLAT


@pytest.mark.parametrize("name", BARRED)
def test_goals_of_plates_with_a_bar(name):
    off = np.abs(percent_off(name))
    assert off.mean() <= MEAN_GOAL
    assert off.max() <= wanted(name)


@pytest.mark.parametrize("name", MODAL)
def test_modes_against_solid_elements(name):
    percent, usual = percent_off(name), wanted(name)
    allowed = np.array([WIDER.get((name, mode), usual) for mode in range(1, 9)])
    assert np.all(np.abs(percent) <= allowed), percent.round(2)
    assert np.abs(percent).mean() <= MEAN.get(name, allowed.mean())


def test_carved_grain_is_softer_than_bent_grain_by_what_solids_say():
    """The choice matters: same arch, carved or bent, modes 1 to 8 lower by 1.6 to 5.3 % in the solids."""
    carved, bent = (System(*model(CASES[name], 10, 8)).modes(8).frequencies for name in ("5", "6"))
    solid = np.array(CASES["5"]["extrapolated_hz"][:8]) / np.array(CASES["6"]["extrapolated_hz"][:8])
    assert np.abs(carved / bent - solid).max() < 0.004  # a tenth of the effect


def test_a_bar_that_leans_either_way_moves_the_modes_as_in_solids():
    """Free edge 0.2 rad to one side against as much to the other, the same plate and place: modes 1 to 8 part
    by -0.45 to +0.47 % in the solids, and in shell and rib within 0.02 % of that. Where a leaning blade's
    stretch followed the turning of the glued strip instead of the bending of its root it missed by 0.23 %.
    """
    one, other = (System(*model(CASES[name], 12, 9)).modes(8).frequencies for name in ("15p", "15m"))
    solid = np.array(CASES["15p"]["extrapolated_hz"][:8]) / np.array(CASES["15m"]["extrapolated_hz"][:8])
    assert np.abs(one / other - solid).max() < 0.0005  # the lean the wrong way round misses by 0.009


@pytest.mark.parametrize(("name", "tolerance"), [("14", 2.0), ("14b", 2.0), ("14m", 2.0), ("14bm", 2.0)])
def test_deflection_under_the_bass_foot(name, tolerance):
    """35 N on a foot's patch, rim held upright: sinking at mid-thickness within 2 %."""
    case = CASES[name]
    shell, ribs = model(case, nx=16, ny=12)
    rim = shell.mesh.boundary_facets()
    a = case["plate"]["a"]
    supports = (
        hold(shell, rim, [[0.0, 0.0, 1.0]]),
        hold_point(shell, (-a / 2, 0.0), np.eye(3)[:2]),
        hold_point(shell, (a / 2, 0.0), np.eye(3)[1:2]),
    )
    u = System(shell, ribs, supports).solve(load_vector(shell, case["load"]))
    load = case["load"]
    rows = point_rows(shell, np.array([[load["x"]], [load["y"]]]), [0, 0, 1])
    sinking = (rows @ u[: shell.n_dofs])[0]
    assert 100 * abs(sinking / case["extrapolated_u_z_m"]["middle"] - 1) < tolerance
