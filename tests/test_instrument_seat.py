"""The seat of a bar on surfaces whose inside has a closed form."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.errors import GeometryError
from platemodel.instrument.bar import Bar, TrimmedFlank
from platemodel.instrument.bridge import Bridge
from platemodel.instrument.field import SmoothField, grid_lines
from platemodel.instrument.outline import Outline
from platemodel.instrument.presets import preset_bar, preset_top, preset_wood
from platemodel.instrument.seat import bar_stations, inner_height, seat_curve
from platemodel.instrument.side_view import OVERWIDTH, SAW_ROOM, side_view
from platemodel.instrument.top import Top

BOX = (-0.02, -0.13, 0.38, 0.13)
H = 3e-3  # m, thickness
SPLINE = 2e-7  # m: a bicubic spline through a circle of 0.2 m on 2 mm lines errs by h^4 f''''/384, below this
MM = 1e-3


def top_over(height, pitch=2e-3):
    """A violin's outline under any height z(x, y), of even thickness, without sound holes."""
    x, y = grid_lines(BOX, pitch)
    z = height(*np.meshgrid(x, y, indexing="ij"))
    even = np.full_like(z, H)
    return Top(
        name="closed form", kind="violin", outline=Outline.preset("violin"), arching=SmoothField(x, y, z),
        thickness=SmoothField(x, y, even), sound_holes=(), wood=preset_wood(),
        bridge=Bridge(0.160, 41e-3, 11.5e-3, 4.5e-3),
    )  # fmt: skip


def straight_bar(y_low=-18e-3, y_high=-14e-3, width=6e-3, **more):
    x = np.linspace(0.040, 0.315, 56)
    return Bar(0.040, y_low, 0.315, y_high, width, x, np.full(56, 0.010), preset_wood(), **more)


@pytest.fixture(scope="module")
def tilted():
    """z = 20 mm + 0.05 x - 0.10 y (m): everything is a plane."""
    return top_over(lambda x, y: 0.02 + 0.05 * x - 0.10 * y)


@pytest.fixture(scope="module")
def across():
    """Cylinder along the body, radius 0.2 m: the cross arch of a violin, about."""
    return top_over(lambda x, y: np.sqrt(0.2**2 - y**2) - 0.185 + 0 * x)


@pytest.fixture(scope="module")
def along():
    """Cylinder across the body, radius 1.2 m, crest at x = 0.1775."""
    return top_over(lambda x, y: np.sqrt(1.2**2 - (x - 0.1775) ** 2) - 1.185 + 0 * y)


# --- the inside surface --------------------------------------------------------------------------------


def test_inside_of_a_plane(tilted):
    """Thickness is square to the surface: the inside lies h sqrt(1 + p^2 + q^2) lower."""
    x, y = np.array([0.05, 0.1, 0.3]), np.array([-0.02, -0.05, 0.04])
    exact = 0.02 + 0.05 * x - 0.10 * y - H * np.sqrt(1 + 0.05**2 + 0.10**2)
    assert inner_height(tilted, x, y) == pytest.approx(exact, abs=1e-12)


def test_inside_of_a_cylinder_is_a_cylinder(across):
    y = np.linspace(-0.08, 0.08, 33)
    exact = np.sqrt((0.2 - H) ** 2 - y**2) - 0.185
    assert inner_height(across, 0.15, y) == pytest.approx(exact, abs=SPLINE)


def test_inside_of_a_paraboloid():
    """z = c - a x^2 - b y^2 is within a bicubic spline, so only the iteration can err."""
    a, b, c, x0 = 0.3, 1.5, 0.016, 0.17
    top = top_over(lambda x, y: c - a * (x - x0) ** 2 - b * y**2, pitch=8e-3)
    u, v = np.meshgrid(np.linspace(0.05, 0.30, 9), np.linspace(-0.06, 0.06, 9))
    p, q = -2 * a * (u - x0), -2 * b * v
    s = np.sqrt(1 + p**2 + q**2)
    x, y, z = u + H * p / s, v + H * q / s, c - a * (u - x0) ** 2 - b * v**2 - H / s
    assert inner_height(top, x, y) == pytest.approx(z, abs=1e-11)


def test_inside_lies_as_far_below_the_midsurface_as_that_below_the_outside():
    """Regression against the project's own midsurface: half the thickness each, 0.01 mm of its grid."""
    top = preset_top("violin")
    x, y = np.meshgrid(np.linspace(0.05, 0.3, 12), np.linspace(-0.04, 0.0, 7))
    mid = top.midsurface().value(x, y)
    _, z_x, z_y = top.midsurface().gradient(x, y)
    lower = mid - top.thickness.value(x, y) / 2 * np.sqrt(1 + z_x**2 + z_y**2)
    assert inner_height(top, x, y) == pytest.approx(lower, abs=1e-5)


def test_inside_is_refused_off_the_field(tilted):
    with pytest.raises(GeometryError, match="outside the field"):
        inner_height(tilted, 0.5, 0.0)


# --- the seat ------------------------------------------------------------------------------------------


def test_seat_on_a_plane(tilted):
    bar = straight_bar()
    seat = seat_curve(tilted, bar)
    along, across_ = np.array([1, bar.slope]) / np.hypot(1, bar.slope), None
    across_ = np.array([-along[1], along[0]])
    gradient = np.array([0.05, -0.10])
    assert np.tan(seat.bevel) == pytest.approx(gradient @ across_, rel=1e-9)
    assert np.tan(seat.slope) == pytest.approx(gradient @ along, rel=1e-7)
    # Lower towards the treble side here, so the bevel is negative.
    assert (seat.bevel < 0).all()
    exact = bar.length * np.hypot(1, gradient @ along)
    assert seat.lengths == pytest.approx((exact,) * 3, rel=1e-12)
    assert seat.above_chord == pytest.approx(0, abs=1e-12)
    # A bar square to this surface has no bevel: it leans by the very angle.
    leaning = seat_curve(tilted, replace(bar, lean=float(np.arctan(gradient @ across_))))
    assert leaning.bevel == pytest.approx(0, abs=1e-9)


def test_bevel_on_a_cylinder_along_the_body(across):
    """Bar parallel to the axis: both flanks straight, bevel from two heights on a circle of 197 mm."""
    bar = straight_bar(-16e-3, -16e-3)
    seat = seat_curve(across, bar)
    bass, treble = (np.sqrt((0.2 - H) ** 2 - y**2) - 0.185 for y in (-19e-3, -13e-3))
    assert seat.bass == pytest.approx(np.full(seat.s.size, bass), abs=SPLINE)
    assert seat.treble == pytest.approx(np.full(seat.s.size, treble), abs=SPLINE)
    assert seat.bevel == pytest.approx(np.full(seat.s.size, np.arctan((treble - bass) / 6e-3)), abs=1e-4)
    # By hand: asin(16/197) = 4.66 degrees is the slope of the circle under the middle of the bar.
    assert np.degrees(seat.bevel) == pytest.approx(np.full(seat.s.size, 4.66), abs=0.01)
    assert seat.lengths == pytest.approx((0.275,) * 3, abs=1e-9)


def test_lean_is_taken_off_the_bevel_and_turns_about_the_bridge_line(across):
    bar = straight_bar(-16e-3, -16e-3)
    lean = np.radians(2.0)
    upright, leaning = seat_curve(across, bar), seat_curve(across, replace(bar, lean=lean))
    # The bar covers the same arc to 0.01 degrees: its width seen square to itself.
    assert np.degrees(upright.bevel - leaning.bevel) == pytest.approx(np.full(upright.s.size, 2.0), abs=0.01)
    k = int(np.abs(upright.x - 0.160).argmin())
    assert leaning.middle[k] == pytest.approx(upright.middle[k], abs=1e-12)


@pytest.mark.parametrize("lean", [-20.0, 20.0])
def test_flanks_of_a_leaning_bar_end_on_the_arch(across, lean):
    """Three millimetres aside and so far up the leaning side lies the circle of 197 mm, lean as it may."""
    bar = replace(straight_bar(-16e-3, -16e-3), lean=np.radians(lean))
    seat = seat_curve(across, bar)
    origin = seat.middle[int(np.abs(seat.x - 0.160).argmin())]
    sin, cos = np.sin(bar.lean), np.cos(bar.lean)
    for t, flank in ((-3e-3, seat.bass), (3e-3, seat.treble)):
        up = flank - origin
        y = -16e-3 + t * cos - up * sin
        rise = np.sqrt(0.197**2 - y**2) - np.sqrt(0.197**2 - 0.016**2)
        assert t * sin + up * cos == pytest.approx(rise, abs=SPLINE)


def test_curve_on_a_cylinder_across_the_body(along):
    """Arc of 1197 mm radius: heights, slope and length in closed form."""
    bar = straight_bar(-16e-3, -16e-3)
    seat = seat_curve(along, bar)
    r, t = 1.2 - H, seat.x - 0.1775
    assert seat.middle == pytest.approx(np.sqrt(r**2 - t**2) - 1.185, abs=SPLINE)
    assert seat.slope == pytest.approx(-np.arcsin(t / r), abs=1e-5)
    arc = r * (np.arcsin(0.1375 / r) - np.arcsin(-0.1375 / r))
    assert seat.lengths == pytest.approx((arc,) * 3, abs=1e-6)
    assert seat.bevel == pytest.approx(0, abs=1e-6)
    # By hand: a chord of 275 mm on 1197 mm has a rise of 7.93 mm; the highest station is 2 mm off the crest.
    assert 1e3 * seat.crown == pytest.approx(7.93, abs=0.01)


def test_a_slanting_bar_crosses_the_arch(across):
    bar = straight_bar(-18e-3, -14e-3)
    seat = seat_curve(across, bar)
    y = bar.at(seat.x)
    assert seat.middle == pytest.approx(np.sqrt((0.2 - H) ** 2 - y**2) - 0.185, abs=SPLINE)
    assert (np.diff(seat.bevel) < 0).all()  # less slope nearer to the axis


def test_even_spring_is_a_parabola_that_touches_in_the_middle(along):
    bar = straight_bar(-16e-3, -16e-3)
    seat = seat_curve(along, bar, pitch=0.275 / 4, spring=0.6e-3)
    assert seat.gap[[0, -1]] == pytest.approx([0.6e-3] * 2)
    at = dict(zip(np.round(1e3 * seat.s, 2), seat.gap, strict=True))
    assert at[137.5] == pytest.approx(0, abs=1e-15)
    assert at[68.75] == at[206.25] == pytest.approx(0.15e-3)  # a quarter, half way out
    plain = seat_curve(along, bar, pitch=0.275 / 4)
    # The ends of the bar's own seat stand off, so it is more crowned by just the spring.
    assert seat.crown - plain.crown == pytest.approx(0.6e-3, abs=1e-6)
    assert (seat.middle == plain.middle).all()


@pytest.mark.parametrize("spring", [-0.1e-3, 5.1e-3])
def test_spring_out_of_range_is_refused(along, spring):
    with pytest.raises(ValueError, match="allowed 0 to 5 mm"):
        seat_curve(along, straight_bar(), spring=spring)


def test_trimmed_flank_is_followed(across):
    trim = TrimmedFlank(np.array([0.15, 0.17, 0.19]), np.array([3e-3, 1e-3, 3e-3]))
    bar = straight_bar(-16e-3, -16e-3, trim=trim)
    seat = seat_curve(across, bar, pitch=10e-3)
    k = int(np.abs(seat.x - 0.17).argmin())
    assert seat.width[k] == pytest.approx(4e-3, abs=1e-9)
    assert seat.bass[k] == pytest.approx(np.sqrt((0.2 - H) ** 2 - 0.017**2) - 0.185, abs=SPLINE)


# --- stations ------------------------------------------------------------------------------------------


def test_stations_hold_both_ends_and_the_bridge_line():
    bar = straight_bar(-16e-3, -16e-3)
    s = 1e3 * bar_stations(bar, 0.160, 20e-3)
    # 120 is the bridge line itself; 260 and 275 are both kept, 15 mm apart.
    assert s == pytest.approx([*range(0, 261, 20), 275], abs=1e-9)
    s = 1e3 * bar_stations(bar, 0.163, 20e-3)
    assert s[6] == pytest.approx(123.0)
    assert 120.0 not in np.round(s, 6)  # 3 mm from the bridge line
    s = 1e3 * bar_stations(bar, 0.160, 27e-3)
    assert s[-2:] == pytest.approx([243.0, 275.0])  # 270 is 5 mm from the end, less than a quarter of 27


@pytest.mark.parametrize(("x_bridge", "pitch", "match"), [(0.33, 20e-3, "bridge line"), (0.16, 0.2, "pitch")])
def test_unusable_stations_are_refused(x_bridge, pitch, match):
    with pytest.raises(ValueError, match=match):
        bar_stations(straight_bar(), x_bridge, pitch)


# --- the side view -------------------------------------------------------------------------------------


def test_side_view_is_the_seat_turned_on_its_chord(tilted):
    """On a tilted plane the seat is straight, so it lies parallel to the straight edge of the blank."""
    bar = straight_bar(-16e-3, -16e-3)
    view = side_view(tilted, bar, allowance=0.8e-3)
    assert np.tan(view.chord_angle) == pytest.approx(0.05)
    assert np.ptp(view.middle[:, 1]) == pytest.approx(0, abs=1e-12)
    long = 0.275 * np.hypot(1, 0.05)
    assert view.middle[-1, 0] == pytest.approx(long)
    assert view.blank.length == pytest.approx(long + 20 * MM)
    assert view.blank.width == pytest.approx(6 * MM + OVERWIDTH)
    # Height up the side 10.8 mm of roughing, seen square to the turned chord; the higher flank rules.
    slope = np.cos(view.chord_angle)
    assert view.rough_edge[:, 1].min() == pytest.approx(0, abs=1e-12)
    assert view.middle[0, 1] == pytest.approx(10.8 * MM * slope)
    assert view.blank.height == pytest.approx((10.8 + 0.3) * MM * slope + SAW_ROOM)


def test_side_view_of_a_violin_keeps_every_height():
    top = preset_top("violin")
    bar = preset_bar(top)
    view = side_view(top, bar, spring=0.5e-3)
    up = np.hypot(*(view.stations[:, 0] - view.stations[:, 2]).T)
    # Stations of the fine curve are joined by straight pieces of 1 mm.
    assert up == pytest.approx(bar.height(view.seat.x.clip(bar.x_start, bar.x_end)), abs=2e-6)
    assert np.hypot(*(view.stations[:, 1] - view.stations[:, 2]).T) == pytest.approx(1e-3, abs=1e-9)
    assert view.middle[[0, -1], 1].tolist() == pytest.approx([view.middle[0, 1]] * 2)
    assert min(c[:, 1].min() for c in (view.bass, view.final_edge, view.rough_edge)) >= -1e-12


def test_allowance_out_of_range_is_refused(tilted):
    with pytest.raises(ValueError, match="allowance"):
        side_view(tilted, straight_bar(), allowance=6e-3)
