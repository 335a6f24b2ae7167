"""Samples of wood: reading the table, ranking with bands, what each would do to a top."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from platemodel.bench.samples.plots import band_ellipse, draw_samples
from platemodel.errors import JobError
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.job.samples import COLUMNS, read_samples
from platemodel.resources import data_path
from platemodel.study.wood.samples import GluedBar, compare_samples, draw_logs, lightest, match, nearest
from platemodel.study.wood.samples_on_top import ANSWERS, _band, bar_surface, lightest_on_top, samples_on_top
from platemodel.wood import CONSTANTS, from_species, species_estimate
from platemodel.wood.closed_form import glued_stiffness
from platemodel.wood.moisture import equilibrium_moisture
from platemodel.wood.sample import Sample
from platemodel.wood.strip import Strip, StripTap

BLANKS = data_path("samples", "bar_blanks.csv")
WEDGES = data_path("samples", "top_wedges.csv")
HEAD = "name,kind,length_mm,width_mm,thickness_mm,mass_g,tap_flat_hz"


@pytest.fixture(scope="module")
def blanks():
    return compare_samples(read_samples(BLANKS))


def refused(tmp_path, text):
    path = tmp_path / "wood.csv"
    path.write_text(text)
    with pytest.raises(JobError) as caught:
        read_samples(path)
    return caught.value.problems


# ---------------------------------------------------------------- reading


def test_demo_tables_are_read_and_say_that_they_are_invented():
    for path, count, kind in ((BLANKS, 9, "blank"), (WEDGES, 4, "wedge")):
        samples = read_samples(path)
        assert len(samples) == count
        assert all(s.invented and s.kind == kind for s in samples)
        assert (
            "invented" in path.read_text(encoding="utf-8").splitlines()[0] + path.read_text().splitlines()[1]
        )
        for sample in samples:
            assert not sample.fit.doubtful, sample.name


def test_a_blank_is_read_in_si_and_lies_on_its_side():
    first = read_samples(BLANKS)[0]
    strip = first.tests[0]
    assert (strip.length, strip.width, strip.thickness, strip.mass) == pytest.approx(
        (0.32, 0.0221, 0.01105, 0.0314)
    )
    assert strip.shear_modulus("edge") == "G_LT"  # on edge it bends in the later height, along the rings
    assert [t.way for t in first.tests[1:]] == ["flat", "edge"]
    assert first.moisture == pytest.approx(0.081)


def test_humidity_and_across_strip_of_a_wedge():
    wedge = read_samples(WEDGES)[0]
    assert wedge.moisture == pytest.approx(equilibrium_moisture(0.45, 20.0))
    assert {t.strip.along for t in wedge.tests if not isinstance(t, Strip)} == {"L", "R"}
    assert wedge.fit.estimate.sd("E_R") < 0.05
    # no strip was cut across: what E_L and density leave of the species' 19 %, going with it by 0.87 and 0.71
    assert read_samples(WEDGES)[2].fit.estimate.sd("E_R") > 0.08


def test_semicolons_and_decimal_commas(tmp_path):
    path = tmp_path / "w.csv"
    path.write_text(HEAD.replace(",", ";") + "\nA;blank;300;20;11,05;27,4;640\n")
    assert read_samples(path)[0].tests[0].thickness == pytest.approx(0.01105)


def test_every_error_at_once_with_line_and_field(tmp_path):
    rows = [
        HEAD,
        "A,plank,300,20,6,14.8,345",  # kind
        "B,blank,0.3,20,6,14.8,345",  # metres
        "C,blank,300,20,6,fifteen,345",  # a word
        "D,blank,300,6,20,14.8,345",  # sides swapped
        "E,wedge,300,60,20,148,345",  # a wedge tapped like a strip
        "F,blank,300,20,6,14.8,",  # nothing tapped
        "G,blank,300,20,6,44.8,345",  # too heavy for wood
        "H,blank,120,20,16,15.8,3000",  # too short and thick
        "I,blank,300,20,6,14.8,345",
        "I,blank,300,20,6,14.9,346",  # name again
        ",blank,300,20,6,14.8,345",  # no name
    ]
    found = {(p.line, p.field) for p in refused(tmp_path, "\n".join(rows))}
    assert found == {
        (2, "kind"),
        (3, "length_mm"),
        (4, "mass_g"),
        (5, "width_mm"),
        (6, "tap_flat_hz"),
        (7, ""),
        (8, "mass_g"),
        (9, ""),
        (11, "name"),
        (12, "name"),
    }
    text = "\n".join(str(p) for p in refused(tmp_path, "\n".join(rows)))
    assert "is this in metres?" in text
    assert "swap" in text
    assert "length over depth" in text


def test_columns_and_cells_that_do_not_go_together(tmp_path):
    (problem,) = refused(
        tmp_path, HEAD.replace("tap_flat_hz", "tap_falt_hz") + "\nA,blank,300,20,6,14.8,345\n"
    )
    assert "tap_flat_hz?" in problem.allowed
    both = (
        HEAD
        + ",moisture_percent,relative_humidity_percent,across_tap_hz\nA,blank,300,20,6,14.8,345,8,50,500\n"
    )
    assert {p.field for p in refused(tmp_path, both)} == {"moisture_percent", "across_tap_hz"}
    assert refused(tmp_path, "")[0].value == "no samples"
    with pytest.raises(JobError, match="no such file"):
        read_samples(tmp_path / "none.csv")


def test_every_column_is_in_the_document():
    text = (Path(__file__).parents[1] / "docs" / "data-formats.md").read_text(encoding="utf-8")
    for column in COLUMNS:
        row = next(
            (r for r in text.splitlines() if r.startswith(f"| `{column.name}` |") and column.doc in r), ""
        )
        assert row, column.name
        assert column.low is None or f" {column.low:g} to {column.high:g} " in row, column.name
        assert ("| yes |" in row) == column.required, column.name


# ---------------------------------------------------------------- ranking


def test_glued_height_against_the_worked_table():
    # worked by hand (transformed section): bar of 10 GPa instead of 12 needs 12.6 mm instead of 12; plate of
    # 8.5 GPa instead of 11, or 2.2 mm instead of 2.6, 12.5 mm; half a unit of the last figure
    bar = GluedBar.like(12e-3, 12e9)
    assert 1e3 * bar.height(np.array([10e9, 12e9])) == pytest.approx([12.6, 12.0], abs=0.05)
    for change in ({"plate_E": 8.5e9}, {"plate_thickness": 2.2e-3}):
        assert 1e3 * replace(bar, **change).height(np.array([12e9]))[0] == pytest.approx(12.5, abs=0.05)
    h = bar.height(np.array([9e9, 15e9]))
    assert glued_stiffness(np.array([9e9, 15e9]), 5.5e-3, h, 11e9, 30e-3, 2.6e-3) == pytest.approx(
        bar.stiffness
    )


def test_near_equals_are_level_and_others_are_not(blanks):
    row = blanks.table.set_index("sample")
    assert "A2" in row.loc["A1", "level_with"]
    assert row.loc["D1", "level_with"] == ""
    assert 0.05 < blanks.beats.loc["A1", "A2"] < 0.95
    assert blanks.beats.loc["D1", "C1"] > 0.99
    off = blanks.beats.to_numpy() + blanks.beats.to_numpy().T
    assert np.nanmax(np.abs(off - 1)) < 1e-12
    # light wood makes the lighter bar at equal stiffness: h grows only as E^(-1/2.4)
    assert row["rank"]["D1"] == 1
    assert row["rank"]["C1"] > row["rank"]["B2"]
    assert "run-out" in row.loc["E1", "remark"]
    assert (row["remark"] != "").sum() == 1


def test_two_readings_of_one_piece_come_out_even():
    """The same blank under two names: neither can be surely better, whatever the noise of the draws."""
    strip = Strip(0.32, 0.022, 0.011, 31e-3, "L", "R")
    twins = [Sample(name, "blank", (StripTap(strip, 600.0),)) for name in "ab"]
    found = compare_samples(twins)
    assert found.beats.loc["a", "b"] == pytest.approx(0.5, abs=0.05)
    assert found.moisture is None
    with pytest.raises(ValueError, match="names"):
        compare_samples([twins[0], twins[0]])


def test_probability_of_beating_against_the_normal_law():
    # two samples whose figure is density alone: P = Phi(difference / root of the summed variances)
    from scipy.stats import norm

    from platemodel.study.wood.samples import Purpose

    pieces = [Sample(n, "strip", (Strip(0.3, 0.02, 0.006, m),)) for n, m in (("a", 14.8e-3), ("b", 15.0e-3))]
    found = compare_samples(pieces, Purpose("light", "density", "", "", lambda logs: logs[:, 0]))
    a, b = found.estimates["a"], found.estimates["b"]
    z = (b.logs[0] - a.logs[0]) / np.hypot(a.sd("density"), b.sd("density"))
    # 2000 draws: the share's standard error is 1.1 %
    assert found.beats.loc["a", "b"] == pytest.approx(norm.cdf(z), abs=0.04)
    # a band of 90 % ends 1.645 deviations off; the draws know a 5 % point to 0.05 of one
    table, ends = found.table.set_index("sample"), norm.ppf([0.05, 0.95])
    for name, one in (("a", a), ("b", b)):
        low, high = (table.loc[name, f"density_{end}"] for end in ("low", "high"))
        off = (np.array([low, high]) - one.logs[0]) / one.sd("density")
        assert off == pytest.approx(ends, abs=0.2)


def test_nearest_and_match():
    samples = read_samples(WEDGES)
    wood = samples[1].estimate().wood
    for purpose in (nearest(wood), match(wood)):
        table = compare_samples(samples, purpose).table
        assert table["sample"].iloc[0] == "wedge 2"
        assert table["difference_percent"].is_monotonic_increasing
    aim = from_species("tonewood spruce", density=400, E_L=12e9)
    logs = np.log([[getattr(aim, c) for c in CONSTANTS]])
    logs[0, 0] += 0.03
    logs[0, 1] += 0.04
    assert nearest(aim).figure(logs)[0] == pytest.approx(100 * np.sqrt((0.03**2 + 0.04**2) / 2))


def test_samples_are_brought_to_one_moisture():
    strip = Strip(0.32, 0.022, 0.011, 31e-3, "L", "R")
    dry = Sample("dry", "blank", (StripTap(strip, 600.0),), moisture=0.06)
    moist = Sample("moist", "blank", (StripTap(strip, 600.0),), moisture=0.10)
    unknown = Sample("unknown", "blank", (StripTap(strip, 600.0),))
    found = compare_samples([dry, moist, unknown])
    assert found.moisture == pytest.approx(0.08)
    # same readings: what was dry gets softer when brought to 8 %, what was moist stiffer, 1.6 % a per cent
    E = {n: e.wood.E_L for n, e in found.estimates.items()}
    assert np.log(E["moist"] / E["dry"]) == pytest.approx(1.6 * 0.04, rel=1e-6)
    assert "moisture not given" in found.table.set_index("sample").loc["unknown", "remark"]


# ---------------------------------------------------------------- on a top


def cheap(bar):
    """Stands for a model: smooth laws of height, stiffness and weight with known exponents."""
    E, rho, G = bar.wood.E_L / 12e9, bar.wood.density / 400, bar.wood.G_LT / 0.7e9
    h = bar.heights.max() / 12e-3
    foot = 50 + 50 * E**0.5 * h**1.2 * G**0.02
    return {"foot_n_per_mm": foot, "f1_hz": 90 * h**0.1, "f2_hz": 150 + 8 * E * h, "f5_hz": 330 / rho**0.05,
            "bar_g": 1e3 * bar.mass()}  # fmt: skip


@pytest.fixture(scope="module")
def on_cheap():
    bar = preset_bar(preset_top("violin"), wood=from_species("tonewood spruce", density=400, E_L=12e9))
    estimates = {
        name: species_estimate("tonewood spruce").measured(0.01, "t", density=rho).measured(0.03, "t", E_L=E)
        for name, rho, E in (
            ("same", 400, 12e9),
            ("soft", 360, 10e9),
            ("stiff", 450, 14e9),
            ("feeble", 300, 5e9),
        )
    }
    return bar, estimates, bar_surface(cheap, bar, list(estimates.values()))


def test_height_for_equal_stiffness_is_the_law_s_own(on_cheap):
    bar, estimates, surface = on_cheap
    assert len(ANSWERS) == 5
    for name in ("soft", "stiff"):
        wood = estimates[name].wood
        # the surface scales both shear moduli by their common factor, the law knows G_LT alone
        logs = np.log(
            [[getattr(replace(wood, G_LR=bar.wood.G_LR, G_LT=bar.wood.G_LT), c) for c in CONSTANTS]]
        )
        height = surface.height_for(logs)
        exact = (12e-3) * (wood.E_L / 12e9) ** (-0.5 / 1.2) * (bar.heights.max() / 12e-3)
        # the surface is of second degree over a factor 1.25 of height and the spread of E_L
        assert height[0] == pytest.approx(exact, rel=2e-3), name
        assert surface.read(logs, height)[0, 0] == pytest.approx(cheap(bar)["foot_n_per_mm"], rel=1e-3)


def test_table_on_a_top(on_cheap):
    _, estimates, surface = on_cheap
    table = samples_on_top(estimates, surface).set_index("sample")
    assert table.loc["soft", "height_change_mm_low"] > 0.2
    assert table.loc["stiff", "height_change_mm_high"] < -0.1
    assert table.loc["same", "height_change_mm_low"] < 0 < table.loc["same", "height_change_mm_high"]
    # f5 goes as density^-0.05 only
    f5 = table.loc["soft", "f5_hz"] / table.loc["stiff", "f5_hz"]
    rho = estimates["soft"].wood.density / estimates["stiff"].wood.density
    assert f5 == pytest.approx(rho**-0.05, rel=2e-3)
    for column in ("height_mm", "bar_g", "f2_hz"):
        ok = table.loc[["same", "soft", "stiff"]]
        assert (ok[f"{column}_low"] < ok[column]).all()
        assert (ok[column] < ok[f"{column}_high"]).all()
    assert "outside" in table.loc["feeble", "remark"]
    assert np.isnan(table.loc["feeble", "height_mm"])
    # no height within reach does it: it ranks last and is said to
    figure = lightest_on_top(surface).figure(np.array([estimates["feeble"].logs, estimates["soft"].logs]))
    assert np.isinf(figure[0])
    assert np.isfinite(figure[1])


def test_band_of_the_height_is_that_of_the_stiffness(on_cheap):
    # d ln h = -(0.5/1.2) d ln E for the law; other constants add the shear's 2 % x 40 %
    _, estimates, surface = on_cheap
    row = samples_on_top({"same": estimates["same"]}, surface).iloc[0]
    wide = np.log(row["height_mm_high"] / row["height_mm_low"]) / (2 * 1.645)
    assert wide == pytest.approx(0.5 / 1.2 * estimates["same"].sd("E_L"), rel=0.15)


# ---------------------------------------------------------------- picture


def test_ellipse_casts_the_bands():
    estimate = species_estimate("tonewood spruce").measured(0.02, "t", density=400.0)
    ring = band_ellipse(estimate)
    assert (ring[:, 0].min(), ring[:, 0].max()) == pytest.approx(estimate.band("density"), rel=1e-3)
    assert (1e9 * ring[:, 1].min(), 1e9 * ring[:, 1].max()) == pytest.approx(estimate.band("E_L"), rel=1e-3)


def test_picture_names_every_sample_once_and_apart(blanks):
    figure = Figure(figsize=(9, 6.5))
    canvas = FigureCanvasAgg(figure)
    ax = draw_samples(blanks, figure.add_subplot(), from_species("tonewood spruce"), "this top")
    canvas.draw()
    names = [
        t
        for t in ax.texts
        if t.get_text().split(" ", 1)[-1] in blanks.estimates or t.get_text() == "this top"
    ]
    assert sorted(t.get_text().split(" ", 1)[-1] for t in names)[:3] == ["A1", "A2", "B1"]
    assert len(names) == len(blanks.estimates) + 1
    boxes = [t.get_window_extent(canvas.get_renderer()) for t in names]
    for i, a in enumerate(boxes):
        assert not any(a.overlaps(b) for b in boxes[i + 1 :]), names[i].get_text()
    assert "INVENTED" in ax.get_title()
    # a line of equal speed passes where sqrt(E/density) says
    label = next(t for t in ax.texts if t.get_text().startswith("c "))
    x, y = label.get_position()
    assert np.sqrt(1e9 * y / x) == pytest.approx(float(label.get_text()[2:]), rel=1e-6)
    ratio = next(t for t in ax.texts if t.get_text().startswith("R "))
    x, y = ratio.get_position()
    assert np.sqrt(1e9 * y / x) / x == pytest.approx(float(ratio.get_text()[2:]), rel=1e-6)


def test_purpose_of_the_default_is_lightest(blanks):
    assert blanks.purpose.name == lightest().name
    rng = np.random.default_rng(1)
    logs = draw_logs(species_estimate("tonewood spruce"), 4000, rng)
    assert logs.shape == (4000, len(CONSTANTS))
    assert logs[:, 0].std() == pytest.approx(0.06, rel=0.05)


def test_a_band_whose_end_lies_among_draws_without_answer_is_missing():
    """An end of a band of 90 % has 5 % beyond it."""
    values = np.arange(1000.0)
    values[:40] = np.nan
    assert _band(values) == pytest.approx(np.quantile(np.arange(40.0, 1000.0), [0.05, 0.95]))
    values[:60] = np.nan
    assert np.isnan(_band(values)).all()
