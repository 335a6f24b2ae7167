"""The bar: profile, mass, sections."""

import numpy as np
import pytest

from platemodel.errors import GeometryError
from platemodel.instrument.bar import Bar, TrimmedFlank
from platemodel.instrument.bar_range import BarRange
from platemodel.instrument.bar_shape import bar_of_height
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.profile import PROFILES, height_profile
from platemodel.wood import from_species

FROM_TOP = np.array([40, 70, 100, 130, 158, 195, 230, 250, 270, 290, 315]) / 1000
# Hand-worked from h = h_e + (h_b - h_e)(1 - s^p): 12 mm at the bridge, ends 3, bar 40 to 315 mm from the
# upper edge of a 355 mm body, bridge at 195 mm; the law is common practice without a source. Heights in mm,
# mass in g at 400 kg/m3 and 5.5 mm.
TABLE = {
    1: ([3.0, 4.7, 6.5, 8.2, 9.9, 12, 9.4, 7.9, 6.4, 4.9, 3.0], 4.5),
    1.5: ([3.0, 5.5, 7.7, 9.6, 11.0, 12, 10.6, 9.2, 7.6, 5.7, 3.0], 5.1),
    2: ([3.0, 6.1, 8.6, 10.4, 11.5, 12, 11.2, 10.1, 8.5, 6.4, 3.0], 5.5),
    3: ([3.0, 7.3, 9.9, 11.3, 11.9, 12, 11.8, 11.1, 9.8, 7.5, 3.0], 5.9),
}
ENDS, BRIDGE = (0.040, 0.315), 0.160  # from the lower edge: 355 - 315 = 40, 355 - 40 = 315, 355 - 195 = 160


def profile(x, power):
    return height_profile(x, BRIDGE, *ENDS, 12e-3, 3e-3, 3e-3, power)


def straight_bar(heights=None, stations=None, **kw):
    stations = np.array([0.04, 0.16, 0.315]) if stations is None else stations
    heights = np.array([3e-3, 12e-3, 3e-3]) if heights is None else heights
    wood = from_species("tonewood spruce", density=400)
    return Bar(0.04, -0.018, 0.315, -0.0145, 5.5e-3, stations, heights, wood, **kw)


@pytest.mark.parametrize("power", TABLE)
def test_station_heights(power):
    heights, _ = TABLE[power]
    # Printed to 0.1 mm, so half of that, and the same again where the table itself was rounded at a tie.
    assert 1000 * profile(0.355 - FROM_TOP, power) == pytest.approx(heights, abs=0.06)


@pytest.mark.parametrize("power", TABLE)
def test_masses(power):
    x = np.linspace(*ENDS, 300)
    bar = straight_bar(profile(x, power), x)
    # Printed to 0.1 g.
    assert 1000 * bar.mass() == pytest.approx(TABLE[power][1], abs=0.06)
    # Integral of the law: h_e + (h_b - h_e) p/(p + 1) on each side; 0.1 % for 300 straight pieces.
    mean = 3e-3 + 9e-3 * power / (power + 1)
    assert bar.mass() == pytest.approx(400 * 5.5e-3 * bar.length * mean, rel=1e-3)


def test_names_of_profiles():
    x = np.linspace(*ENDS, 20)
    for name, power in PROFILES.items():
        assert profile(x, name) == pytest.approx(profile(x, power))
    with pytest.raises(ValueError, match="straight, medium, parabola, full"):
        profile(x, "gothic")


def test_profile_off_the_bar_is_refused():
    with pytest.raises(ValueError, match="320 mm leave the bar"):
        profile(np.array([0.05, 0.32]), 2)
    with pytest.raises(ValueError, match="not between the ends"):
        height_profile(np.array([0.1]), 0.33, *ENDS, 12e-3, 3e-3, 3e-3)


def test_straight_flanks_have_the_volume_of_two_wedges():
    """Two trapezia of mean height 7.5 mm: 5.5 x 275 x 7.5 mm3 along the slanted axis; exact."""
    bar = straight_bar()
    assert bar.volume() == pytest.approx(5.5e-3 * bar.length * 7.5e-3, rel=1e-12)
    rounded = straight_bar(section_fill=0.9)
    assert rounded.mass() == pytest.approx(0.9 * bar.mass(), rel=1e-12)


def test_axis_and_flanks():
    bar = straight_bar()
    assert bar.at(0.04) == pytest.approx(-0.018)
    assert bar.at(0.315) == pytest.approx(-0.0145)
    x, inner, outer = bar.flanks()
    assert (inner - outer) * np.cos(bar.angle) == pytest.approx(np.full(x.size, 5.5e-3))
    assert bar.polygon.area == pytest.approx(5.5e-3 * bar.length, rel=1e-9)
    assert bar.height([0.03, 0.16, 0.1, 0.32]) == pytest.approx([0, 12e-3, 7.5e-3, 0])


def test_trim_takes_wood_from_the_outer_flank_only():
    bar = straight_bar(heights=np.full(3, 10e-3))
    # A triangular notch 20 mm long and 1 mm deep: 10 mm2, times 10 mm of height.
    trim = TrimmedFlank(np.array([0.18, 0.19, 0.20]), np.array([2.75e-3, 1.75e-3, 2.75e-3]))
    cut = bar.with_trim(trim)
    assert bar.volume() - cut.volume() == pytest.approx(10e-6 * 10e-3 * np.hypot(1, bar.slope), rel=1e-9)
    assert cut.width_at(0.19) == pytest.approx(4.5e-3)
    assert cut.flanks(np.array([0.19]))[1] == pytest.approx(bar.flanks(np.array([0.19]))[1])
    assert cut.with_trim(None).volume() == bar.volume()


def test_new_heights_leave_the_bar_as_it_was():
    bar = straight_bar()
    lower = bar.with_height(bar.heights - 1e-3)
    assert lower.height(0.16) == pytest.approx(11e-3)
    assert bar.height(0.16) == pytest.approx(12e-3)
    with pytest.raises(ValueError, match="read-only"):
        bar.heights[0] = 1.0


@pytest.mark.parametrize(
    ("stations", "heights", "words"),
    [
        ([0.04, 0.315], [3e-3, -1e-3], "height -1 mm at x = 315 mm"),
        ([0.04, 0.30], [3e-3, 3e-3], "first and last station"),
        ([0.04, 0.2, 0.1, 0.315], [3e-3] * 4, "200 mm is followed by 100 mm"),
        ([0.04, 0.315], [3e-3] * 3, "equally long"),
    ],
)
def test_a_bar_that_cannot_be_is_refused(stations, heights, words):
    with pytest.raises(GeometryError, match=words):
        straight_bar(np.array(heights), np.array(stations))


def test_the_range_of_a_few_bars_holds_them_with_a_hundredth_to_spare():
    bar = preset_bar(preset_top("violin"))
    low = bar_of_height(bar, 10e-3)
    found = BarRange.of([bar, low])
    assert found.height == pytest.approx((0.99 * 10e-3, 1.01 * 12e-3))
    assert found.ends == pytest.approx((0.99 * 3e-3, 1.01 * 12e-3))
    assert [max(heights) for heights in found.few] == pytest.approx([12e-3, 10e-3], rel=2e-3)
    assert (found.stiffness, found.density) == ((1, 1), (1, 1))
