"""The top's story: the old bar, states.csv, and readings that name their state."""

import pytest

from platemodel.job import read_job
from platemodel.job.report import report
from tests.job_folders import VIOLIN, problems, write

OLD = "[old_bar]\nheight_mm = 10.5\nlength_mm = 262\nmass_g = 3.9\n"
HEAD = "state,bar,mass_g,added_g,height_mm,relative_humidity_percent,date\n"
STORY = (
    "old bar on,old,70.1,,,45,2024-05-02\n"
    "patched,none,67.3,0.6,,52,2024-05-20\n"
    "rough,new,73.0,0.6,15,50,2024-05-21\n"
)


def test_an_old_bar_is_as_heavy_as_it_was_weighed(tmp_path):
    old = read_job(write(tmp_path, VIOLIN + OLD)).old_bar
    assert (old.heights.max(), old.length) == (pytest.approx(10.5e-3), pytest.approx(0.262, abs=1e-3))
    assert old.mass() == pytest.approx(3.9e-3)
    top = read_job(tmp_path).top.wood
    assert old.wood.c_L == pytest.approx(top.c_L)  # the speed of sound is what species share


def test_check_tells_the_old_bar_and_what_was_flexed(tmp_path):
    flexes = "kind,weight_g,sag_mm,bar_on,support\nfoot,100,0.094,false,rim\nfoot,100,0.27,false,\n"
    said = " ".join(report(read_job(write(tmp_path, VIOLIN + OLD, flexes=flexes))).split())
    assert "262.0, width 5.5, 3.9 g" in said
    assert "wood of the old bar as the top; its density from its weight" in said
    assert "flexed without bar foot on the rim 0.094 ± 0.01 mm under 100 g; foot 0.27 ±" in said


def test_taps_with_the_old_bar_need_no_new_one(tmp_path):
    """Only a tap with the new bar is odd where no new bar is described."""
    states = "state,bar\nas it came,old\n"
    taps = "mode,f_hz,bar_on,state\n5,340,true,as it came\n"
    odd = [f.message for f in read_job(write(tmp_path, VIOLIN + OLD, states=states, taps=taps)).findings]
    assert not any("no table [bar]" in words for words in odd)
    (tmp_path / "taps.csv").write_text("mode,f_hz,bar_on\n5,340,true\n", encoding="utf-8")
    odd = [f.message for f in read_job(tmp_path).findings]
    assert any("no table [bar]" in words for words in odd)


def test_an_empty_table_is_no_old_bar(tmp_path):
    assert read_job(write(tmp_path, VIOLIN + "[old_bar]\n")).old_bar is None


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ("mass_g = 40\n", ["old_bar.mass_g", "kg/m3"]),
        ("mass_g = 9\n[wood.old_bar]\ndensity_kg_m3 = 400\n", ["old_bar.mass_g", "leave one of the two out"]),
        ("height_mm = 2\n", ["old_bar.height_mm", "4 to 40"]),
        ('rule = "placed"\n', ["old_bar.rule", "lower_end_from_axis_mm"]),
    ],
)
def test_old_bars_refused(tmp_path, lines, words):
    found = problems(write(tmp_path, VIOLIN + "[old_bar]\n" + lines))[0]
    for word in words:
        assert word in found


def test_a_story(tmp_path):
    taps = "mode,f_hz,bar_on,state\n5,330,,old bar on\n5,301,false,patched\n5,342,true,rough\n2,150,false,\n"
    flexes = "kind,weight_g,sag_mm,bar_on,state\nalong,200,0.08,,old bar on\nalong,200,0.10,no,patched\n"
    toml = VIOLIN + "[bar]\nheight_mm = 13\n" + OLD
    job = read_job(write(tmp_path, toml, states=HEAD + STORY, taps=taps, flexes=flexes))
    assert [s.name for s in job.states] == ["without bar", "old bar on", "patched", "rough"]
    bare, old, patched, rough = job.states
    assert (patched.mass, patched.added, patched.relative_humidity) == pytest.approx((67.3e-3, 0.6e-3, 0.52))
    assert [job.bar_in(s) for s in (bare, old, patched)] == [None, job.old_bar, None]
    assert job.bar_in(rough).heights.max() == pytest.approx(15e-3)
    assert job.heard_in(bare)[2].frequency == 150
    assert job.heard(False)[5].frequency == 301  # the last state without bar
    assert job.heard(True)[5].frequency == 342  # never the old bar's
    assert job.felt_in(old)[0].sag == pytest.approx(0.08e-3)
    assert "states.csv" in job.files
    assert rough.words == "rough (new bar of 15 mm)"


def test_weight_and_air_of_the_job_belong_to_its_state(tmp_path):
    toml = VIOLIN + "relative_humidity_percent = 44\n[measured]\nmass_g = 66\nmode_5_hz = 300\n"
    (state,) = read_job(write(tmp_path, toml)).states
    assert (state.name, state.mass, state.relative_humidity) == ("without bar", 0.066, 0.44)


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("a,both,,,,,\n", ["bar", "none, old, new"]),
        ("a,none,,,,,\na,none,,,,,\n", ["state", "line 2"]),
        ("a,none,,,12,,\n", ["height_mm", "only the new bar"]),
        ("a,old,,,,,\n", ["bar", "[old_bar]"]),
        ("a,new,,,12,,\n", ["height_mm", "[bar]"]),
        ("a,none,60,20,,,\n", ["added_g", "a fifth"]),
        ("a,none,,,,,yesterday\n", ["date", "year-month-day"]),
        ("with bar,none,,,,,\n", ["bar", "says otherwise"]),
    ],
)
def test_states_refused(tmp_path, rows, words):
    found = problems(write(tmp_path, VIOLIN, states=HEAD + rows))[0]
    for word in ("states.csv", *words):
        assert word in found


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("5,300,,glued", ["state", "a state of states.csv", "old bar on"]),
        ("5,300,false,old bar on", ["bar_on", "as the state says"]),
        ("5,300,,", ["bar_on", "true"]),
        ("5,300,,old bar on\n5,310,,old bar on", ["mode", "line 2"]),
    ],
)
def test_readings_of_states_refused(tmp_path, row, words):
    taps = f"mode,f_hz,bar_on,state\n{row}\n"
    found = problems(write(tmp_path, VIOLIN + OLD, states=HEAD + "old bar on,old,,,,,\n", taps=taps))[0]
    for word in ("taps.csv", *words):
        assert word in found


def test_the_scar_of_the_old_bar_is_a_mark(tmp_path):
    job = read_job(write(tmp_path, VIOLIN + OLD))
    (scar,) = job.marks
    assert (scar.kind, scar.width) == ("old bar", job.old_bar.width)
    assert scar.points[0] == pytest.approx([job.old_bar.x_start, job.old_bar.y_start])
    both = "kind,x1_mm,y1_mm,x2_mm,y2_mm\nold bar,40,-18,300,-14\n"
    assert "[old_bar] of job.toml" in problems(write(tmp_path, VIOLIN + OLD, marks=both))[0]
