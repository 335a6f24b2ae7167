"""Derivatives by thickness and height against differences of the full model."""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from platemodel.fem.shell import Shell
from platemodel.instrument.field import SmoothField
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.study.top.answers import bar_response
from platemodel.study.top.sensitivity import sensitivity
from tests.quick import quick_model

NAMES = ("f1_hz", "f2_hz", "f5_hz", "sink_sliding_m_per_n", "sink_held_m_per_n")


@pytest.fixture(scope="module")
def violin():
    return quick_model(preset_top("violin"))


@pytest.fixture(scope="module")
def bar(violin):
    return preset_bar(violin.top)


@pytest.fixture(scope="module")
def exact(violin, bar):
    return sensitivity(violin, bar)


def values(model, bar):
    found = bar_response(model, bar)
    return np.array([*(found.frequency(n) for n in (1, 2, 5)), 1 / found.foot.sliding, 1 / found.foot.held])


def bell(x, y, x0, y0, radius):
    return np.exp(-((x - x0) ** 2 + (y - y0) ** 2) / radius**2)


def difference(of, step):
    """Central difference of values that ``of`` gives for +1 and -1."""
    return (of(1) - of(-1)) / (2 * step)


def test_values_are_the_full_model_s(exact, violin, bar):
    assert exact.names == NAMES
    assert exact.values == pytest.approx(values(violin, bar), rel=1e-8)


def test_thickness_with_the_midsurface_held(exact, violin, bar):
    """A patch beside and under the bar, thicker and thinner by 0.02 mm: 1e-4, from the step's third order and
    the solver's own 1e-9.
    """
    place, step = (0.16, -0.018, 0.03), 2e-5
    shell = violin.shell

    def thicker(sign):
        def thickness(x, y):
            return shell.section.thickness(x, y) + sign * step * bell(x, y, *place)

        section = replace(shell.section, thickness=thickness)
        return values(violin.with_shell(Shell(shell.mesh, shell.surface, section)), bar)

    found = -exact.shaved(lambda x, y: bell(x, y, *place), face="both")
    assert found.to_numpy() == pytest.approx(difference(thicker, step), rel=1e-4)


@dataclass(frozen=True, eq=False)
class Thicker:
    """Thickness field with a patch added."""

    base: SmoothField
    place: tuple
    step: float

    def value(self, x, y):
        return self.base.value(x, y) + self.step * bell(x, y, *self.place)


@pytest.mark.parametrize("place", [(0.071, -0.05, 0.03)])
def test_shaving_the_inside_moves_the_midsurface(exact, violin, bar, place):
    """The outer face stays: the top is made anew with its midsurface (a spline on its grid, 0.5 %). On
    the flank of the arch this is another answer than with the midsurface held: mode 5 differs by half.
    """
    step = 5e-5

    def thicker(sign):
        top = replace(violin.top, thickness=Thicker(violin.top.thickness, place, sign * step))
        return values(quick_model(top), bar)

    true = difference(thicker, step)
    inside, both = (
        -exact.shaved(lambda x, y: bell(x, y, *place), face).to_numpy() for face in ("inside", "both")
    )
    assert inside == pytest.approx(true, rel=8e-3)
    assert abs(both[2] / true[2] - 1) > 0.5


def test_height_of_the_bar(exact, violin, bar):
    """About the bridge and at the upper end, up and down by 0.01 mm: 1e-3, as the smallest effects are a
    hundredth of the largest.
    """
    step = 1e-5
    x = bar.stations
    hump = np.exp(-(((x - 0.16) / 0.02) ** 2)) + 0.5 * np.exp(-(((x - 0.29) / 0.02) ** 2))

    def higher(sign):
        return values(violin, replace(bar, heights=bar.heights + sign * step * hump))

    found = -exact.planed(lambda at: np.interp(at, x, hump))
    assert found.to_numpy() == pytest.approx(difference(higher, step), rel=1e-3)


def test_map_is_what_shaving_a_spot_does(exact, violin):
    """One point of the map against the same spot by hand, differentiated numerically: 1e-3 of the column's
    largest; its volume is 10 mm3.
    """
    grid, table = exact.map()
    k = len(table) // 3
    at = 1e-3 * table[["x_mm", "y_mm"]].iloc[k].to_numpy()
    radius = np.sqrt(2.0) * violin.top.outline.body_length / 45.0
    volume = exact.areas @ bell(*exact.places, *at, radius)
    found = exact.shaved(lambda x, y: 1e-8 / volume * bell(x, y, *at, radius))
    columns = table[list(NAMES)]
    error = np.abs(columns.iloc[k].to_numpy() - found.to_numpy())
    assert np.all(error < 1e-3 * columns.abs().max().to_numpy())
    assert len(table) == grid.points.shape[1]


def test_bar_table(exact, violin):
    """Wood off the bar lowers modes 1 and 5 and lets the foot sink more, all along but for the very ends
    (two stations, less than a height), where it carries nothing and only weighs (else stiffness outweighs
    mass in a bar as high as this); the
    greatest sinking is by wood under the foot.
    """
    table = exact.bar_table()
    assert np.all(table[["f1_hz", "f5_hz"]][2:-2] < 0)
    # the height of the very end is the taper of the last stretch as well, of which the blade knows what is
    # first order: 2 % of what wood under the foot does
    held = table["sink_held_m_per_n"]
    assert np.all(held[1:-1] > -1e-12)
    assert np.all(held > -0.02 * held.max())
    deepest = table["x_mm"][table["sink_sliding_m_per_n"].idxmax()]
    assert deepest == pytest.approx(1e3 * violin.top.bridge.x, abs=10)


def test_without_bar(violin):
    """No bar: nothing to plane, the top still has a map."""
    bare = sensitivity(violin)
    assert bare.planed(lambda x: x).abs().max() == 0
    assert bare.bar_table().empty
    with pytest.raises(KeyError):
        bare.shaved(lambda x, y: 0 * x, face="upper")
