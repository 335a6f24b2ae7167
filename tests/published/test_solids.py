"""Shell and rib against solid elements (20-node bricks of a general-purpose solver).

Source of the reference values: `solids/solid_cases.json`, computed with the script beside it
(solids/README.md); its own error is 0.08 % at most. Modes 1 to 8 of free plates, the wood carved (axes fixed
in space) unless the case says bent.
"""

import numpy as np
import pytest

from platemodel.fem.supports import hold, hold_point, point_rows
from platemodel.fem.system import System
from tests.published.solid_model import CASES, load_vector, model

# The mesh's own error is some 0.03 %, that of the solids up to 0.013 %, of cases 2, 3y, 11 and 12 up to
# 0.075 %. Bare plates: the shell's only approximations are thinness (h / R below 1 %) and the edge layer's
# mesh.
FLAT = 0.15
ARCHED = 0.3
# Known shortfalls, in percent, per case and mode; what is not listed keeps within FLAT or ARCHED.
WIDER = {
    # A bar that ends bluntly at full height is too stiff in theory, the same on finer meshes: probably its
    # end turns within its own height, as rigid sections cannot. Formerly strains read at points relaxed
    # that with the mesh.
    ("3", 1): 0.25,
    ("3", 5): 0.5,
    ("3", 8): 0.5,
    ("3y", 1): 0.2,
    ("3y", 5): 0.3,
    ("3y", 7): 1.0,
    ("11", 2): 0.25,
    ("11", 3): 0.3,
    ("11", 5): 0.25,
    ("11", 7): 0.65,
    ("11", 8): 0.25,
    ("13", 1): 0.35,
    ("13", 3): 0.2,
    ("13", 5): 0.65,
    ("13", 8): 0.55,
    # tapered bar on a double arch: twist and bending of the bar come out low; see docs/theory.md 15e
    ("8", 1): 0.4,
    ("8", 4): 0.4,
    # bent grain: its direction is the projected axis here, the tangent of y = const there
    ("6", 1): 0.4,
    ("6", 4): 0.4,
    ("6", 6): 0.25,
}
MODAL = [name for name, case in CASES.items() if "frequencies_hz" in case]
# What bars of instruments are: tapered or full, not ended bluntly at full height.
MEAN = {"2": 0.05, "4": 0.06, "8": 0.2, "9": 0.1, "12": 0.08}  # percent, over modes 1 to 8


@pytest.mark.parametrize("name", MODAL)
def test_modes_against_solid_elements(name):
    case = CASES[name]
    shell, ribs = model(case, nx=12, ny=9)
    ours = System(shell, ribs).modes(8).frequencies
    reference = np.array(case["extrapolated_hz"][:8])
    percent = 100 * (ours / reference - 1)
    usual = ARCHED if case["bar"] and case["arch"]["kind"] != "flat" else FLAT
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
    by -0.45 to +0.47 % in the solids. What the shell and rib miss is mostly common to both leans.
    """
    one, other = (System(*model(CASES[name], 12, 9)).modes(8).frequencies for name in ("15p", "15m"))
    solid = np.array(CASES["15p"]["extrapolated_hz"][:8]) / np.array(CASES["15m"]["extrapolated_hz"][:8])
    assert np.abs(one / other - solid).max() < 0.002  # the lean the wrong way round misses by 0.009


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
