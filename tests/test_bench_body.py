"""The page of the closed body: text, data, files."""

import json
from dataclasses import replace

import pandas as pd
import pytest

from platemodel.bench.body import result as report
from platemodel.bench.body.margins import usual_body_margins
from platemodel.bench.body.page import body_pages
from platemodel.bench.body.report import REPORT
from platemodel.bench.body.years import risen_lines, year_lines, year_table
from platemodel.bench.kit.wrapped_text import wrapped
from platemodel.bench.sounds import body_sounds
from platemodel.cli import main
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.strings import SetUp
from platemodel.job import Job
from platemodel.job.job import Measured
from platemodel.resources import data_path
from platemodel.study.body.air_tone import fit_air, lowest_air_tone
from platemodel.study.body.sinking_band import SinkingBand
from platemodel.study.body.tap_sound import body_tap, heard_tones
from platemodel.study.top.old_bar import beside
from platemodel.taps import read_recording
from tests.paper_faults import faults, page_words
from tests.quick import quick_bench


@pytest.fixture(scope="module")
def result():
    top = preset_top("violin")
    bar = preset_bar(top)
    job = Job(
        "A try", top, bar, Measured(), invented=True, set_up=SetUp.usual("violin"), body={"rib_lower": 0.0325}
    )
    return report.job_body(job, bench=quick_bench(job))


def test_bars_from_none_upwards(result):
    """Sinking and freedom of the bass foot fall with the height, motion of the ends grows; the bar itself is
    among them, with the sinking that the full system found (reduced body: 1e-4).
    """
    table = report.case_table(result)
    assert list(table["bar_mm"]) == pytest.approx([0, 9.6, 12, 14.4])
    assert table["sink_bass_mm"].is_monotonic_decreasing
    assert table["mobility_bass_s_per_kg"].is_monotonic_decreasing
    assert table["lower_end_motion"].is_monotonic_increasing
    assert table["sink_bass_mm"][2] == pytest.approx(1e3 * result.load.sinking_bass, rel=1e-4)
    assert table["flow_db"][2] == pytest.approx(0, abs=1e-9)
    assert (table["mobility_bass_low"] < table["mobility_bass_s_per_kg"]).all()


def test_tilt_has_a_band_and_a_sign(result):
    low, middle, high = result.tilt
    assert low < middle < high
    words = " ".join(report.text_lines(result))
    assert any(w in words for w in ("bass foot lies deeper:", "treble foot lies deeper", "either foot"))


def test_text_says_what_is_measured_and_what_is_not(result):
    text = report.as_text(result)
    assert "INVENTED" in text
    assert "1 of 25 figures of the body were measured" in text
    assert "not a certificate" in text
    assert max(map(len, wrapped(text).split("\n"))) <= 118


def test_what_comes_back_when_the_strings_are_off(result):
    """Words follow the readings; what a sunk arch is made of adds up to what was read."""
    years, read = result.years, Measured(arch_strung=14e-3)
    assert risen_lines(years, read) == []
    words = {}
    for rise in (-0.4e-3, 0.0, years.first.middle, 2e-3):
        (words[rise],) = risen_lines(years, replace(read, arch_off=14e-3 + rise))
    assert "read both again" in words[-0.4e-3]
    assert "which fits" in words[years.first.middle]
    assert "trust this body less" in words[2e-3]
    table = year_table(years, Measured(sunk=1e-3))
    assert table["mm"].sum() == pytest.approx(1.0)
    assert len(table) == len(year_table(years, Measured())) + 1
    assert any("Of the 1.00 mm" in line for line in year_lines(years, Measured(sunk=1e-3)))
    assert not any("spring" in line for line in year_lines(years, Measured()))
    assert any("spring" in line for line in year_lines(replace(years, spring=1e-3), Measured()))


@pytest.mark.parametrize("grown", [0.104, 0.105, 0.106, 0.111, 0.119])
def test_parts_of_the_sinking_add_up_as_they_are_shown(result, grown):
    """Each to a hundredth of a millimetre: in words, in the table, and in the sum under it."""
    first = SinkingBand(0.4044e-3, 0.3044e-3, 0.5044e-3, pd.DataFrame())

    class Grown(type(result.years)):
        growth = lambda self, creep: 1.0 + grown * creep.along / (0.6 * 0.4044)  # noqa: E731

    years = Grown(first, result.years.shares, 1e-3, 0.0449e-3, result.years.moisture_lift)
    table = year_table(years, Measured(sunk=1.2349e-3))
    shown = [float(f"{v:.2f}") for v in table["mm"]]
    assert sum(shown) == pytest.approx(1.23, abs=1e-9)
    assert sum(shown[:3]) == pytest.approx(float(f"{1e3 * years.years[1]:.2f}"), abs=1e-9)
    assert shown[0] == 0.40  # as on every other page
    words = " ".join(year_lines(years, Measured(sunk=1.2349e-3)))
    creep = shown[1] + shown[2]
    assert f"some {shown[2]:.2f} mm stay as set" in words
    assert f"bend 0.40 mm today and creep accounts for {creep:.2f}, less 0.04 that" in words
    assert f"; {shown[-1]:.2f} mm are older" in words
    assert (table["low"].dropna() <= table["mm"][table["low"].notna()]).all()


def test_taps_of_the_body_are_written_and_compared(result, tmp_path):
    """One sound a bar; against the bar as it is no bar is louder, a higher one softer."""
    names = list(body_sounds.BARS)
    heights = {name: case.height for name, case in zip(names, result.cases, strict=True)}
    taps = {name: body_tap(case.sound) for name, case in zip(names, result.cases, strict=True)}
    made = body_sounds.JobBodySounds(result.job, heights, taps)
    loud = made.table.set_index("bar")["loudness_db"]
    assert loud["bar"] == 0
    assert loud["no bar"] > loud["lower bar"] > 0 > loud["higher bar"]
    assert "12.0" in body_sounds.as_text(made)
    json.dumps(body_sounds.as_data(made))
    written = body_sounds.REPORT.write_files(made, tmp_path / "out")
    assert [p.name for p in written] == [f"tap_body_{name}.wav" for name in names]
    assert read_recording(written[0]).seconds == pytest.approx(2.3)


def test_tones_that_were_heard_are_set_beside_the_models(result):
    heard = heard_tones(result.usual.sound, (450.0, 540.0))
    told = replace(result, heard=heard)
    assert "Body tones heard 450 Hz" in report.as_text(told)
    assert report.as_data(told)["heard_tones"]["heard_hz"] == [450.0, 540.0]
    assert report.as_data(result)["heard_tones"] is None


def test_the_old_bar_stands_beside_the_new_one_on_the_loose_top(result):
    assert "old bar" not in report.as_text(result).lower()
    old, now = (0.651e-3, 0.452e-3), result.usual.sinking
    case = replace(result.cases[1], sinking=old, old=True)
    told = replace(result, old_bar=beside({"bar_g": 4.0}, {"bar_g": 6.0}), old=case)
    less = 100 * (1 - now[0] / old[0])
    said = "sink 0.65 mm, the treble foot 0.45 mm (middles, good to some 3 %), the bridge tilt "
    assert said in report.as_text(told)
    assert f"the bass foot sinks {less:.0f} % less." in report.as_text(told)
    assert report.as_data(told)["old_bar_closed"]["sink_bass_mm"] == pytest.approx(0.651)
    assert report.as_data(result)["old_bar_closed"] is None
    assert list(report.case_table(told)["bar"])[-2:] == ["bar 14.4 mm", "old bar 9.6 mm"]
    lines = report.as_text(told).splitlines()
    assert [line.split()[:2] for line in lines if line.strip().startswith("old,")] == [["old,", "9.6"]]
    at = lines.index("Beside the old bar, on the loose top")
    assert lines[at + 2].split()[-3:] == ["4.00", "6.00", "+50"]
    assert report.as_data(told)["old_bar"][0]["change_percent"] == pytest.approx(50.0)
    today, later, _ = body_pages(told)
    assert lines[at] in page_words(later)
    assert "+50" in page_words(later)
    assert "old, 9.6" in page_words(today)
    assert "read from what was learnt on the new bar's line" in " ".join(page_words(today).split())
    assert not list(faults(later))
    assert "With the old bar the bass foot would sink 0.65 mm" in page_words(today)
    assert not list(faults(today))
    assert "old bar" not in "".join(page_words(page) for page in body_pages(result)[:2])


def test_strength_to_spare_is_on_page_terminal_and_table(result, tmp_path):
    """The same figures everywhere; beside each the usual instrument's, on its own closed body."""
    usual = usual_body_margins("violin", 0.355, 0.4)
    rows = result.margins.set_index(["part", "what"])
    assert rows["usual"].to_dict() == pytest.approx(usual.to_dict())
    text, page = report.as_text(result), page_words(body_pages(result)[2])
    row = rows.loc["top", "along the grain, compression"]
    for words in (f"{row.day_margin:.1f}", f"{row.margin:.1f} ({row.margin_low:.1f} to"):
        assert words in text
        assert words in page
    assert 0.5 * row.day_margin < row.margin < 0.67 * row.day_margin
    data = report.as_data(result)
    assert data["margins"][1]["margin"] == pytest.approx(row.margin, rel=1e-3)
    assert data["least"] in text


def test_sound_without_bar_is_refused_where_it_is_told_anyway(capsys):
    assert main(["sound", str(data_path("jobs", "modern_violin")), "--body", "--no-bar"]) == 2
    assert "leave --no-bar out" in capsys.readouterr().err


def test_data_are_plain(result):
    data = json.loads(json.dumps(report.as_data(result)))
    assert data["sinking"]["bass_mm"]["low"] < data["sinking"]["bass_mm"]["middle"]
    assert "rib_lower" not in data["usual_figures"]
    assert sum(row["share"] for row in data["causes"]) == pytest.approx(1, abs=1e-3)


def test_a_tone_that_was_heard_fits_the_holes(result):
    """The fitted body sounds at the heard pitch (0.1 %); a pitch out of reach is told as doubt."""
    body, bar = result.reduced, result.bar
    here = lowest_air_tone(body, bar)
    found = fit_air(body, bar, 1.04 * here)
    assert lowest_air_tone(found.body, bar) == pytest.approx(1.04 * here, rel=1e-3)
    assert found.factor > 1
    far = fit_air(body, bar, 1.5 * here)
    assert not far.trusted
    assert "trust this body less" in far.text


def test_files_are_written_once(result, tmp_path):
    paths = REPORT.write_files(result, tmp_path / "out")
    assert [p.name for p in paths] == list(REPORT.files)
    assert len(pd.read_csv(paths[0])) == 4
    with pytest.raises(FileExistsError):
        REPORT.write_files(result, tmp_path / "out")


def test_the_pages_are_a4_and_legible(result):
    for figure in body_pages(result):
        assert figure.get_size_inches() * 25.4 == pytest.approx([297, 210])
        assert list(faults(figure)) == []
