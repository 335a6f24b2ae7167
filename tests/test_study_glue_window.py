"""Glue window: conservation of heat, laws that must hold, refusals; exact solutions are in the cases."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import trapezoid
from scipy.optimize import brentq
from scipy.special import erfcx

from platemodel.instrument import preset_bar, preset_top
from platemodel.study.gluing.conduction import (
    AirFace,
    Layer,
    Stack,
    contact_temperature,
    face_flow,
    film_decay,
    vapour_density,
)
from platemodel.study.gluing.glue_window import GEL, GlueConditions, Joint, gel_times, glue_window
from platemodel.wood.thermal import glue_thermal, wood_thermal

WOOD, GLUE = wood_thermal(420, 0.09), glue_thermal()


def joint(**more):
    usual = dict(
        bar=WOOD, glue=GLUE, plate=WOOD, bar_thickness=10e-3, film=0.3e-3, plate_thickness=3e-3, glue_c=60.0,
        wood_c=20.0, room_c=20.0, gel_c=33.0,
    )  # fmt: skip
    return Joint(**{**usual, **more})


def open_time(one):
    return float(gel_times([one], 0.0)[0][0])


def closed_time(one, lay):
    return float(gel_times([one], lay)[1][0])


@pytest.fixture(scope="module")
def violin():
    top = preset_top("violin")
    return glue_window(preset_bar(top), top)


# --- conduction -----------------------------------------------------------------------------------------


def test_heat_is_kept_when_nothing_leaves():
    stack = Stack(
        [Layer(WOOD, 10e-3, 20.0, "high"), Layer(GLUE, 0.3e-3, 60.0), Layer(WOOD, 3e-3, 20.0, "low")]
    )
    _, t = stack.run(200.0, at=np.array([0.0, 1.0, 30.0, 200.0]))
    heat = stack.capacity @ t  # above 0 degrees C, J/m2
    gained = heat[0] - 20.0 * stack.capacity.sum()
    # 1e-4 of what the film brought: tolerance of the time steps
    assert heat == pytest.approx([heat[0]] * 4, abs=1e-4 * gained)
    assert t[:, -1].max() - t[:, -1].min() < t[:, 1].max() - t[:, 1].min()


def test_heat_that_leaves_is_what_the_air_takes():
    stack = Stack([Layer(WOOD, 3e-3, 40.0, "both")], AirFace(10.0, 20.0))
    times = np.linspace(0, 600, 1201)
    _, t = stack.run(600.0, at=times)
    taken = trapezoid([face_flow(stack.low, c, stack.half[0]) for c in t[0]], times)
    assert stack.capacity @ (t[:, 0] - t[:, -1]) == pytest.approx(taken, rel=1e-3)


def test_contact_lies_nearer_to_the_body_of_more_effusivity():
    t = contact_temperature(GLUE, 60.0, WOOD, 20.0)
    assert 40 < t < 60
    assert contact_temperature(WOOD, 60.0, WOOD, 20.0) == pytest.approx(40.0)


def test_time_goes_as_the_square_of_the_film():
    times = np.array([1.0, 4.0])
    thin, thick = (film_decay(GLUE, d, WOOD, times) for d in (0.2e-3, 0.4e-3))
    assert thick[1] == pytest.approx(thin[0], rel=1e-12)


def test_finer_cells_change_gel_times_by_less_than_a_per_cent(monkeypatch):
    from platemodel.study.gluing import conduction

    coarse = closed_time(joint(), 0.0)
    monkeypatch.setattr(conduction, "GROWTH", 1.05)
    monkeypatch.setattr(conduction, "FILM_CELLS", 20)
    assert closed_time(joint(), 0.0) == pytest.approx(coarse, rel=0.01)


# --- gelling --------------------------------------------------------------------------------------------


def test_a_thin_film_between_thick_wood_cools_as_the_formula_says():
    """Carslaw & Jaeger 12.4 takes the film as stirred, which shortens little at 0.1 mm."""
    thick = joint(film=0.1e-3, bar_thickness=50e-3, plate_thickness=50e-3)
    time = closed_time(thick, 0.0)
    left = film_decay(GLUE, 0.1e-3, WOOD, time)
    assert 20.0 + 40.0 * left == pytest.approx(33.0, abs=0.5)


def test_two_sides_of_wood_cool_faster_than_one_of_air():
    dry = joint(wet=0.0)
    assert closed_time(dry, 0.0) < 0.5 * open_time(dry)


def test_evaporation_shortens_the_open_time_only():
    wet, dry = joint(wet=1.0), joint(wet=0.0)
    assert open_time(wet) < 0.9 * open_time(dry)
    # the same equations, stepped beside other ones: the tolerance of the steps
    assert closed_time(wet, 0.0) == pytest.approx(closed_time(dry, 0.0), rel=1e-4)


def test_wood_warmer_than_the_gel_point_waits_for_the_room():
    warm = open_time(joint(wood_c=40.0, wet=0.0))
    assert warm > 100
    assert open_time(joint(wood_c=40.0, room_c=35.0, wet=0.0)) == np.inf


def test_a_bar_set_down_too_late_has_gelled_before():
    cold = joint(wood_c=5.0, film=0.2e-3)
    assert closed_time(cold, 60.0) == pytest.approx(open_time(cold), rel=1e-3)


def test_joints_computed_together_gel_when_they_would_alone():
    joints = [joint(), joint(wood_c=35.0, film=0.2e-3), joint(wood_c=5.0, bar_thickness=6e-3)]
    together = np.array(gel_times(joints, 10.0))
    alone = np.array([gel_times([one], 10.0) for one in joints])[:, :, 0].T
    # the integrator's own tolerance of 1e-6 K over cooling rates of some 0.1 K/s, several hundred steps
    assert together == pytest.approx(alone, rel=2e-4)


def test_glue_below_its_gel_point_has_no_time():
    assert open_time(joint(glue_c=33.0)) == 0.0


def test_wet_air_takes_the_heat_of_what_evaporates():
    """A wet bulb: at 20 degrees and 50 % humidity a wet face in air comes to 13.8 degrees (psychrometric
    chart, from memory)."""
    face = AirFace(10.0, 20.0, wet=1.0, humidity=0.5)
    low, high = 0.0, 20.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if face.flow(middle) > 0 else (middle, high)
    # 0.4 degrees: psychrometers are blown on, and radiation is left out here
    assert low == pytest.approx(13.8, abs=0.4)
    assert vapour_density(30.0) > vapour_density(20.0)


# --- window ---------------------------------------------------------------------------------------------


def test_the_window_is_of_the_trades_size(violin):
    """20 to 60 s on cold wood, 1 to 3 minutes on warmed wood in a warm room: common practice, no source."""
    cold, warm = violin.table.iloc[0], violin.table.iloc[-1]
    assert cold["open_low_s"] < 60
    assert cold["open_high_s"] > 20
    assert warm["closed_low_s"] < 180
    assert warm["closed_high_s"] > 60


def test_the_band_goes_from_all_that_shortens_to_all_that_lengthens(violin):
    """docs/glue.md: film 0.2 to 0.4 mm, air 15 to 5 W/m2K, evaporation all to none, gel point 35 to 31."""
    middle, row = violin.joint, violin.table.iloc[0]
    for name, film, air, wet, gel in (("low", 0.2e-3, 15.0, 1.0, 35.0), ("high", 0.4e-3, 5.0, 0.0, 31.0)):
        case = replace(middle, film=film, air=air, wet=wet, gel_c=gel)
        assert row[f"open_{name}_s"] == pytest.approx(open_time(case), rel=2e-4)  # steps of the run
        assert row[f"closed_{name}_s"] == pytest.approx(closed_time(case, 10.0), rel=2e-4)


def test_the_width_of_the_window_is_that_of_the_stirred_film():
    """Set at once between thick wood, a thin film gels after t with 20 + 40 exp(x^2) erfc(x) its gel point.

    Carslaw & Jaeger 12.4: x goes as the root of t over the film, so that from the thin film with the high
    gel point to the thick one with the low point the time grows by (2 x_31 / x_35)^2.
    """
    at = {c: brentq(lambda x, c=c: erfcx(x) - (c - 20.0) / 40.0, 1e-3, 20.0) for c in (35.0, 31.0)}
    expected = (2 * at[31.0] / at[35.0]) ** 2
    top = preset_top("violin")
    films = (0.05e-3, 0.07e-3, 0.1e-3)  # thin, so that a plate of 3 mm is thick wood while they gel
    row = glue_window(preset_bar(top), top, GlueConditions(lay_s=0.0, film=films), warmed=()).table.iloc[0]
    # the film is not stirred: 3 % of the time at 0.1 mm
    assert row["closed_high_s"] / row["closed_low_s"] == pytest.approx(expected, rel=0.05)


def test_bands_are_in_order_and_warm_wood_buys_time(violin):
    table = violin.table
    for name in ("open", "closed"):
        assert (table[f"{name}_low_s"] < table[f"{name}_mid_s"]).all()
        assert (table[f"{name}_mid_s"] < table[f"{name}_high_s"]).all()
        assert (np.diff(table[f"{name}_mid_s"]) > 0).all()
    assert table["times"][0] == 1.0
    assert violin.warnings == ()


def test_stronger_glue_gels_sooner():
    top = preset_top("violin")
    bar = preset_bar(top)
    assert GEL[164] < GEL[251]
    found = (glue_window(bar, top, GlueConditions(gram=g), warmed=()) for g in (164, 251))
    weak, strong = (window.table["open_mid_s"][0] for window in found)
    assert strong < weak


def test_warnings_and_refusals():
    top = preset_top("violin")
    bar = preset_bar(top)
    found = glue_window(bar, top, GlueConditions(glue_c=68.0, wood_c=45.0), warmed=())
    assert [w.split(":")[0] for w in found.warnings] == ["glue at 68 degrees", "wood at 45 degrees"]
    for more, words in (
        ({"glue_c": 90.0}, "allowed 40 to 75"),
        ({"wood_c": 60.0}, "allowed 0 to 50"),
        ({"gram": 200}, "gram strength 200"),
        ({"film": (0.3e-3, 0.2e-3, 0.4e-3)}, "rising"),
    ):
        with pytest.raises(ValueError, match=words):
            GlueConditions(**more)
