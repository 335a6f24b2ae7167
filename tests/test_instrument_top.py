"""The top as a whole: midsurface, volume, grain."""

import dataclasses

import numpy as np
import pytest
import shapely

from platemodel.errors import GeometryError, PlatemodelError
from platemodel.instrument.bridge import Bridge
from platemodel.instrument.dimensions import dimensions
from platemodel.instrument.field import SmoothField, grid_lines
from platemodel.instrument.outline import Outline
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.sound_hole import SoundHole
from platemodel.instrument.top import Top
from platemodel.resources import data_path
from platemodel.wood import from_species

WOOD = from_species("tonewood spruce", density=400)


def bowl(radius, h):
    """Round plate of 100 mm radius whose outer surface is a cap of a sphere."""
    t = np.linspace(0, 2 * np.pi, 1200, endpoint=False)
    outline = Outline(np.c_[0.1 + 0.1 * np.cos(t), 0.1 * np.sin(t)], np.array([], int))
    box = outline.box(0.012)
    if np.isinf(radius):
        z = SmoothField.constant(h, box)
    else:
        lines = grid_lines(box, 3e-3)
        x, y = np.meshgrid(*lines, indexing="ij")
        z = SmoothField(*lines, np.sqrt(radius**2 - (x - 0.1) ** 2 - y**2) - 0.2)
    return Top(
        "bowl",
        "violin",
        outline,
        z,
        SmoothField.constant(h, box),
        (),
        WOOD,
        Bridge(0.1, 0.041, 0.0115, 0.0045),
    )


def test_midsurface_of_a_sphere_is_a_sphere():
    """Normals of a sphere meet in its centre, so half the thickness inside lies the sphere of radius R -
    h/2.
    """
    m = bowl(0.25, 4e-3).midsurface()
    x, y = np.meshgrid(np.linspace(0.02, 0.18, 30), np.linspace(-0.08, 0.08, 30))
    # 1 micrometre: splines with pitches of 3 and 2 mm; the slope reaches 25 degrees.
    assert m.value(x, y) == pytest.approx(np.sqrt(0.248**2 - (x - 0.1) ** 2 - y**2) - 0.2, abs=1e-6)


@pytest.mark.parametrize("kind", ["violin", "viola", "cello"])
def test_midsurface_is_the_exact_offset(kind):
    """Every point of the outer surface, moved inwards by h/2 along its normal, lies on the midsurface to
    0.01 mm.
    """
    top = preset_top(kind)
    x0, y0, x1, y1 = top.outline.box()
    p = np.random.default_rng(0).uniform([x0, y0], [x1, y1], (20000, 2))
    p = p[shapely.contains_xy(top.outline.polygon, *p.T)]
    z, z_x, z_y = top.arching.gradient(*p.T)
    n = np.c_[-z_x, -z_y, np.ones(len(p))] / np.sqrt(1 + z_x**2 + z_y**2)[:, None]
    q = np.c_[p, z] - top.thickness.value(*p.T)[:, None] / 2 * n
    assert np.abs(top.midsurface().value(*q[:, :2].T) - q[:, 2]).max() < 0.01e-3


def test_volume_of_a_flat_disc():
    """pi r^2 h; 0.01 % for the polygon."""
    assert bowl(np.inf, 3e-3).volume() == pytest.approx(np.pi * 0.01 * 3e-3, rel=1e-4)


def test_volume_of_a_cap_of_a_sphere():
    """Cap cut by a cylinder of radius a through its axis: between the spheres R and R - h.

    The cylinder cuts the edge upright while the thickness counts square to the surface, so the exact volume
    uses the area 2 pi Rm (Rm - sqrt(Rm^2 - a^2)) of the midsurface times h, up to (h/2Rm)^2/3 = 2e-5.
    """
    R, h, a = 0.25, 4e-3, 0.1
    rm = R - h / 2
    # 0.1 %: counting cells of 0.6 mm at the rim, where the slope is greatest.
    assert bowl(R, h).volume() == pytest.approx(2 * np.pi * rm * (rm - np.sqrt(rm**2 - a**2)) * h, rel=1e-3)


def test_mass_of_a_violin_top():
    """Finished violin tops with bar weigh 60 to 75 g, the bar some 5 to 6 (public workshop accounts, no
    source).
    """
    top = preset_top("violin", wood=WOOD)
    assert 0.055 < top.mass_estimate() < 0.070
    assert 0.0045 < preset_bar(top).mass() < 0.006


def test_sound_holes_are_cut_out_of_the_plan():
    top = preset_top("violin")
    gone = sum(h.area for h in top.sound_holes)
    assert top.plan.area == pytest.approx(top.outline.area - gone, rel=1e-12)
    whole = dataclasses.replace(top, sound_holes=())
    # Holes lie where the plate is about 2.5 to 3 mm thick and slopes up to 25 degrees.
    assert 2.3e-3 < (whole.volume() - top.volume()) / gone < 3.3e-3


def test_grain_axes():
    top = preset_top("violin")
    assert top.grain_axes() == pytest.approx(np.eye(3))
    turned = dataclasses.replace(top, grain_angle=0.03, ring_angle=0.2, run_out=0.05).grain_axes()
    assert turned @ turned.T == pytest.approx(np.eye(3), abs=1e-15)
    assert np.linalg.det(turned) == pytest.approx(1)
    L, R, _ = turned
    # Grain to the treble side by 0.03 in plan, rising by 0.05; rings leaning by 0.2 lift R out of the plan.
    assert np.arctan2(L[1], L[0]) == pytest.approx(0.03)
    assert np.arcsin(L[2]) == pytest.approx(0.05)
    assert R[2] == pytest.approx(np.sin(0.2) * np.cos(0.05))


def test_scaled_preset_keeps_its_proportions():
    half = preset_top("violin", 0.2840)
    full = preset_top("violin", 0.3550)
    assert half.outline.area == pytest.approx(full.outline.area * 0.64, rel=1e-3)
    # 0.1 %: cells counted on rasters of either size.
    assert half.volume() == pytest.approx(full.volume() * 0.512, rel=1e-3)


def test_a_hole_across_the_edge_is_refused_with_its_place():
    top = preset_top("violin")
    hole = SoundHole.preset(dimensions("violin"), "bass", eye_spacing=0.095)
    with pytest.raises(GeometryError, match="bass sound hole leaves the plate near"):
        dataclasses.replace(top, sound_holes=(hole,))


def test_holes_that_meet_are_refused():
    top = preset_top("violin")
    with pytest.raises(GeometryError, match="meet near"):
        dataclasses.replace(top, sound_holes=(top.sound_holes[0], top.sound_holes[0]))


def test_bridge_feet():
    """Feet of 11.5 mm under a span of 41 mm: centres at 14.75 mm from the middle."""
    bridge = Bridge(0.16, 41e-3, 11.5e-3, 4.5e-3)
    assert bridge.bass_foot == pytest.approx([0.16, -14.75e-3])
    assert bridge.feet()[1].bounds == pytest.approx((0.15775, 9e-3, 0.16225, 20.5e-3))
    with pytest.raises(ValueError, match="does not fit twice"):
        Bridge(0.16, 20e-3, 11.5e-3, 4.5e-3)


def test_data_is_found_and_missing_data_is_named():
    assert data_path("wood", "species.csv").is_file()
    with pytest.raises(PlatemodelError, match=r"wood/nothing\.csv"):
        data_path("wood", "nothing.csv")
