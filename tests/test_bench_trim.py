"""Trimming at the bench: text, data, page, and the verb from the first tap to the last."""

import csv
import json
import shutil
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure
from scipy.integrate import trapezoid

from platemodel.bench.kit.wrapped_text import wrapped
from platemodel.bench.trim import page as trim_page
from platemodel.bench.trim import result as trim_report
from platemodel.bench.trim.plots import draw_mode_stages, draw_profile
from platemodel.bench.trim.report import REPORT
from platemodel.cli import main
from platemodel.errors import JobError
from platemodel.instrument.bar_cuts import PLACES, bridge_height, cut
from platemodel.instrument.flex_test import usual_flex_test
from platemodel.job.stages import STAGES_FILE, StageRow, read_stages
from platemodel.record import read_history
from platemodel.resources import data_path
from platemodel.study.top.flex import flexes
from platemodel.study.top.workbench import Workbench
from platemodel.study.trimming.size_guides import SizeGoal, size_guides
from platemodel.study.trimming.tap_correction import FIRST_DOUBT, MODES
from platemodel.wood.estimate import HALF_WIDTH
from tests.paper_faults import faults, page_words
from tests.quick import quick_bench
from tests.trim_model import BAR, JOB, FormulaTop, X

MM = 1e-3
FIRST = ("--goal", "5=345", "--heard", "5=361", "--height-mm", "14")
ROWS = (
    StageRow(14.5 * MM, heard={1: 98.0, 2: 163.0, 5: 361.0}),
    StageRow(14.0 * MM, "all along", 0.5 * MM, {1: 97.2, 2: 162.0, 5: 359.0}),
)


DOUBTS = dict.fromkeys(MODES, FIRST_DOUBT)


class FormulaBench:
    """Workbench whose reduced model is made of formulas."""

    def __init__(self, gain=None):
        self.top = FormulaTop() if gain is None else FormulaTop(gain=gain)

    def reduced(self, _):
        return self.top

    def tone_doubts(self):
        return DOUBTS


@pytest.fixture(autouse=True)
def formulas(monkeypatch):
    """Let formulas stand for the shell, which is tested elsewhere."""
    monkeypatch.setattr(trim_report, "job_bench", lambda *_: FormulaBench())
    monkeypatch.setattr(trim_report, "bass_foot_stiffness", lambda model, bar: model.foot_stiffness(bar))
    monkeypatch.setattr(trim_report, "goal_of", lambda _, bar: SizeGoal(bridge_height(bar, X)))


@pytest.fixture
def folder(tmp_path):
    target = tmp_path / "job"
    shutil.copytree(data_path("jobs", "modern_violin"), target)
    return target


def run(capsys, *argv):
    code = main(["trim", *(str(a) for a in argv)])
    out = capsys.readouterr()
    return code, out.out, out.err


# ---------------------------------------------------------------- without a tone


def test_a_height_is_worked_to_in_careful_cuts():
    rows = (StageRow(14.5 * MM),)
    result = trim_report.job_trim(JOB, rows, {}, sizes=SizeGoal(height=12.9 * MM))
    p = result.proposal
    assert (p.verdict, p.place.name, p.by_pitch) == ("cut", "all along", False)
    assert p.depth == pytest.approx(1.0 * MM)  # of 1.6 mm: a millimetre at most at once
    assert "1.6 mm all along are left" in p.text
    rows = (*rows, StageRow(13.2 * MM))
    nearer = trim_report.job_trim(JOB, rows, {}, sizes=SizeGoal(height=12.9 * MM))
    assert nearer.proposal.depth == pytest.approx(0.3 * MM)
    done = trim_report.job_trim(JOB, (*rows, StageRow(12.9 * MM)), {}, sizes=SizeGoal(height=12.9 * MM))
    assert done.proposal.text == "stop: height under the bridge 12.9 mm is reached"


def test_a_tone_out_of_reach_stops_nobody_above_the_planned_bar():
    """The planned bar is 12 mm; at 14.5 mm a tone that no bar reaches must not end the work."""
    out = trim_report.job_trim(JOB, (StageRow(14.5 * MM, heard={5: 361.0}),), {5: 200.0})
    assert out.proposal.verdict == "cut"
    assert "pitch cannot guide here, go by height, weight and flex" in out.proposal.text
    assert out.proposal.depth == pytest.approx(1.0 * MM)
    assert "height under the bridge: 14.5 now, 12.0 mm wanted; 2.5 mm to take off" in trim_report.as_text(out)
    there = trim_report.job_trim(JOB, (StageRow(12.0 * MM, heard={5: 348.0}),), {5: 200.0})
    assert there.proposal.verdict == "stop"


def test_what_comes_first_decides():
    rows = (StageRow(13.0 * MM, heard={5: 357.0}),)
    tone = trim_report.job_trim(JOB, rows, {5: 345.0}).proposal
    both = trim_report.job_trim(JOB, rows, {5: 345.0}, sizes=SizeGoal(height=12.8 * MM)).proposal
    assert tone.depth > 0.2 * MM
    assert both.depth == pytest.approx(0.2 * MM)
    assert both.text.endswith("before the tone")


def test_weight_and_flex_with_the_shell_itself(monkeypatch):
    """What comes off weighs its density times its volume; a lower bar lets the plate sag more."""
    monkeypatch.undo()
    model = quick_bench(JOB).model
    mass = model.mass + BAR.mass()
    sag = flexes(model, [usual_flex_test(JOB.top, "along")], BAR)[0].flexibility
    goal = SizeGoal(mass=mass - 0.2e-3, flex={"along": 1.02 * sag})
    guides = size_guides(model, BAR, goal, 9 * MM, 2 * MM).set_index("guide")
    depth = MM * guides["left_mm"]
    lighter = cut(BAR, PLACES[0], depth["weight of top and bar"], X, 2 * MM)
    assert BAR.mass() - lighter.mass() == pytest.approx(0.2e-3, rel=0.02)  # straight between five depths
    softer = cut(BAR, PLACES[0], depth["flex along"], X, 2 * MM)
    found = flexes(model, [usual_flex_test(JOB.top, "along")], softer)[0].flexibility
    assert found / sag - 1.0 == pytest.approx(0.02, rel=0.1)  # straight between five depths
    weighed = SizeGoal(mass=mass, weighed=mass + 0.2e-3)
    again = size_guides(model, BAR, weighed, 9 * MM, 2 * MM)["left_mm"].iloc[0]
    assert again == pytest.approx(guides["left_mm"]["weight of top and bar"], rel=1e-9)


# ---------------------------------------------------------------- report


def test_text_says_it_all():
    result = trim_report.job_trim(JOB, ROWS, {5: 350.0, 2: 158.0})
    text = trim_report.as_text(result)
    assert max(map(len, wrapped(text).splitlines())) <= 100
    p = result.proposal
    for words in (
        "INVENTED DATA",
        "all along 0.5",
        f"Take off {1e3 * p.depth:.1f} mm, {p.place.name}, then tap again.",
        "mode 5: goal 350.0 Hz",
        "Stop when you hear",
        "the maker decides",
        "qualified restorer",
        "Blades",
    ):
        assert words in text
    for row in p.expected.itertuples():
        assert f"{row.now_hz:8.1f} ±{HALF_WIDTH * row.now_sd_hz:.1f}" in text


def test_defaults_of_the_limits():
    result = trim_report.job_trim(JOB, ROWS, {5: 350.0})
    assert result.goal.least_height == pytest.approx(0.8 * bridge_height(BAR, X))
    assert result.goal.least_stiffness == pytest.approx(0.9 * result.full_stiffness)
    assert result.goal.least_end == pytest.approx(2 * MM, rel=0.01)  # a body of about 355 mm


def test_a_mode_that_does_not_mind_the_bar_is_no_guide(monkeypatch):
    for gain, words in ((1.0, ""), (0.2, "no better than"), (0.01, "hardly moves mode 5")):
        monkeypatch.setattr(trim_report, "job_bench", lambda *_, gain=gain: FormulaBench(gain))
        text = " ".join(trim_report.expectation_lines(trim_report.job_trim(JOB, ROWS, {5: 345.0})))
        assert words in text
        assert ("no better than" in text, "hardly moves" in text) == (gain == 0.2, gain == 0.01)


def test_cut_table_adds_up():
    result = trim_report.job_trim(JOB, ROWS, {5: 345.0})
    table = trim_report.cut_rows(result)
    # A station may lie beside the deepest place.
    assert table["take_off_mm"].max() == pytest.approx(1e3 * result.proposal.depth, abs=0.06)
    # Rounded to 0.01 mm each.
    assert (table["now_mm"] - table["take_off_mm"] - table["after_mm"]).abs().max() < 0.021
    assert (table["after_mm"] >= table["lowest_mm"] - 0.11).all()
    bridge = table.set_index("place").loc["bridge line"]
    assert bridge["x_mm"] == pytest.approx(1e3 * X, abs=0.01)
    assert bridge["now_mm"] == pytest.approx(14.0, abs=0.01)


def test_data_is_plain():
    data = trim_report.as_data(trim_report.job_trim(JOB, ROWS, {5: 300.0}, least_height=13 * MM))
    again = json.loads(json.dumps(data, allow_nan=False))
    assert (again["verdict"], again["by_pitch"]) == ("cut", False)  # by the planned height instead
    assert again["depth_mm"] == 0.9  # 0.1 mm is kept for the hand
    assert again["expected"][2]["reachable"] == "no"
    assert len(again["stages"]) == 2
    assert again["stages"][1]["heard_5_hz"] == 359.0


def test_no_bar_and_no_stage():
    with pytest.raises(JobError, match="needs a bar"):
        trim_report.job_trim(replace(JOB, bar=None), ROWS, {5: 350.0})
    with pytest.raises(JobError, match="no stages"):
        trim_report.job_trim(JOB, (), {5: 350.0})


def test_the_range_holds_every_bar_that_may_come():
    result = trim_report.job_trim(JOB, ROWS, {5: 345.0}, least_height=10 * MM)
    bars = [s.bar for s in result.stages]
    span = trim_report.trim_range([BAR, *bars], X, 10 * MM, 2 * MM)
    for bar in (*bars, result.proposal.bar, result.proposal.lowest):
        assert span.height[0] <= bridge_height(bar, X) <= span.height[1]
        assert (span.ends[0] <= bar.heights[[0, -1]]).all()
        assert (bar.heights[[0, -1]] <= span.ends[1]).all()


# ---------------------------------------------------------------- pictures


def test_profile_shows_what_is_taken_off():
    result = trim_report.job_trim(JOB, ROWS, {5: 345.0})
    ax = Figure().add_subplot()
    assert draw_profile(result, ax) is ax
    hatched = [c for c in ax.collections if c.get_hatch()]
    assert len(hatched) == 1
    corners = hatched[0].get_paths()[0].vertices
    now, after = result.stages[-1].bar, result.proposal.bar
    x = np.linspace(BAR.x_start, BAR.x_end, 20001)
    wanted = 1e6 * trapezoid(now.height(x) - after.height(x), x)
    a, b = corners[:-1], corners[1:]
    area = abs(0.5 * (a[:, 0] * b[:, 1] - b[:, 0] * a[:, 1]).sum())
    assert area == pytest.approx(wanted, rel=0.01)  # mm2; drawn from station to station


def test_the_height_at_the_bridge_stands_over_the_profile():
    """Stations are rounded in the table; the bridge line's figures must not count as its neighbour's."""
    result = trim_report.job_trim(JOB, ROWS, {5: 345.0})
    ax = draw_profile(result, Figure().add_subplot())
    (bold,) = (t for t in ax.texts if t.get_weight() == "bold")
    assert bold.get_text().startswith(f"{1e3 * result.height:.1f}")
    assert bold.get_position()[0] == pytest.approx(1e3 * result.x_bridge, abs=0.5)


@pytest.mark.parametrize("gap", [0.028, 0.15])
def test_figures_over_the_profile_keep_apart(gap):
    """On a narrow page a cello's thirty stations would run into each other; ends and bridge line stay."""
    result = trim_report.job_trim(JOB, ROWS, {5: 345.0})
    ax = draw_profile(result, Figure().add_subplot(), gap)
    x = np.sort([t.get_position()[0] for t in ax.texts if t.get_style() != "italic"])
    ends = 1e3 * BAR.stations[[0, -1]]
    assert x[[0, -1]] == pytest.approx(ends, abs=0.05)
    assert np.abs(x - 1e3 * result.x_bridge).min() < 0.5
    assert np.diff(x).min() >= gap * np.ptp(ends)


def test_modes_show_goal_readings_and_what_is_expected():
    rows = (*ROWS, StageRow(14.0 * MM, "lower flank", 0.3 * MM, {1: 97.1, 2: 161.8, 5: 330.0}))
    result = trim_report.job_trim(JOB, rows, {5: 345.0})
    ax = draw_mode_stages(result, 5, Figure().add_subplot())
    labels = ax.get_legend_handles_labels()[1]
    assert {"heard", "model alone", "taps and model", "goal", "heard, not used"} <= set(labels)
    lines = {line.get_label(): line for line in ax.lines}
    assert list(lines["heard"].get_ydata()) == [361.0, 359.0]
    assert list(lines["heard, not used"].get_ydata()) == [330.0]


@pytest.mark.parametrize("wanted", [{5: 345.0}, {5: 300.0, 2: 150.0}])
@pytest.mark.parametrize("count", [1, 2])
def test_pages_are_a4_and_legible(wanted, count):
    pages = trim_page.trim_pages(trim_report.job_trim(JOB, ROWS[:count], wanted))
    for figure in pages:
        assert figure.get_size_inches() * 25.4 == pytest.approx([297, 210])
        assert list(faults(figure)) == []
        assert "the maker decides" in page_words(figure)
        assert "Invented data" in page_words(figure)


# ---------------------------------------------------------------- the verb


def test_from_the_first_tap_to_a_page(capsys, folder, tmp_path):
    goal = ("--goal", "5=345,2=156", "--quiet")
    code, out, err = run(capsys, folder, "--heard", "1=98,2=163,5=361", "--height-mm", "14.5", *goal)
    assert (code, err) == (0, "")
    assert "Take off" in out
    code, out, err = run(
        capsys, folder, "--heard", "1=97.2,2=162,5=359", "--height-mm", "14.0", "--cut", "all along=0.5",
        "--note", "plane, then scraper", "--record", *goal, "--out", tmp_path / "out",
    )  # fmt: skip
    assert code == 0
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == sorted(REPORT.files)
    assert err.count("\n") == 3
    rows = read_stages(folder)
    assert [r.height for r in rows] == pytest.approx([14.5 * MM, 14 * MM])
    assert rows[1].heard == {1: 97.2, 2: 162.0, 5: 359.0}
    (entry,) = read_history(folder).entries
    assert entry.kind == "cut"
    assert entry.values == {
        "f1_hz": 97.2, "f2_hz": 162.0, "f5_hz": 359.0,
        "height_mm": 14.0, "place": "all along", "depth_mm": 0.5,
    }  # fmt: skip
    with open(tmp_path / "out" / "trimming_stages.csv", encoding="utf-8") as file:
        table = list(csv.DictReader(file))
    assert [float(r["heard_5_hz"]) for r in table] == [361.0, 359.0]
    before = (folder / STAGES_FILE).read_bytes()
    code, again, _ = run(capsys, folder, *goal)
    assert (code, again) == (0, out)
    assert (folder / STAGES_FILE).read_bytes() == before


def test_the_same_stage_twice_is_kept_once(capsys, folder):
    argv = (folder, "--heard", "5=361", "--height-mm", "14.5", "--goal", "5=345", "--quiet")
    run(capsys, *argv)
    code, _, err = run(capsys, *argv)
    assert code == 0
    assert "already" in err
    assert len(read_stages(folder)) == 1


def test_json(capsys, folder):
    code, out, _ = run(
        capsys, folder, "--heard", "5=361", "--height-mm", "14.5", "--goal", "5=345", "--json", "--quiet"
    )
    data = json.loads(out)
    assert (code, data["name"], data["invented"]) == (0, JOB.name, True)
    assert [e["number"] for e in data["expected"]] == list(MODES)


@pytest.mark.parametrize(
    ("argv", "code", "words"),
    [
        (("--goal", "5=345"), 1, "no stages"),
        (("--goal", "5=345", "--note", "thin"), 1, "goes with --heard or --height-mm"),
        (("--goal-height-mm", "12", "--weighed-g", "60"), 2, "goes with"),
        (("--goal-flex", "bend=0.1"), 2, "KIND=MM"),
        (("--goal", "5=345", "--heard", "5=361"), 1, "needs the height"),
        (("--goal", "5=345", "--heard", "5=361", "--height-mm", "2.5"), 1, "lower than the ends allow"),
        ((*FIRST, "--cut", "all along=0.5"), 1, "first stage"),
        (("--heard", "5=361"), 2, "--goal"),
        (("--goal", "3=345"), 2, "MODE=HZ"),
        (("--goal", "5=345,5=346"), 2, "twice"),
        (("--goal", "5=345", "--cut", "somewhere=0.5"), 2, "both flanks"),
        (("--goal", "5=345", "--cut", "all along=much"), 2, "0.01 to 20"),
        (("--goal", "5=345", "--least-height-mm", "0.1"), 2, "2 to 60"),
        (("--goal", "5=345", "--least-stiffness-percent", "9"), 2, "10 to 150"),
    ],
)
def test_refused_without_a_trace(capsys, folder, argv, code, words):
    found, out, err = run(capsys, folder, *argv, "--quiet")
    assert (found, out) == (code, "")
    assert words in err
    assert "Traceback" not in err
    assert not (folder / STAGES_FILE).exists()


def test_files_that_are_there_are_not_replaced(capsys, folder, tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    (out / "trimming.pdf").write_text("mine")
    argv = (folder, "--heard", "5=361", "--height-mm", "14.5", "--goal", "5=345", "--quiet", "--out", out)
    code, _, err = run(capsys, *argv)
    assert code == 2
    assert "--force" in err
    assert not (folder / STAGES_FILE).exists()
    assert run(capsys, *argv, "--force")[0] == 0
    assert (out / "trimming.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.slow
def test_with_the_shell_itself(monkeypatch):
    """Tones of the demo fall when its bar is cut, and the reduced model knows every bar asked."""
    monkeypatch.undo()
    bench = quick_bench(JOB)
    seen = []

    def watched(span):
        seen.append(Workbench.reduced(bench, span))
        return seen[-1]

    monkeypatch.setattr(bench, "reduced", watched)
    rows = (StageRow(13.0 * MM, heard={1: 95.0, 2: 161.0, 5: 365.0}),)
    result = trim_report.job_trim(JOB, rows, {5: 362.0, 1: 92.0}, bench=bench)
    p = result.proposal
    assert p.verdict == "cut"
    table = p.options.set_index("place")
    assert (table.loc["all along", ["f1_hz", "f2_hz", "f5_hz", "stiffness_percent"]] < 0).all()
    for bar in (p.bar, p.lowest, result.stages[0].bar):
        assert seen[0].response(bar).source == "reduced"
    assert p.stiffness[0] > p.stiffness[1] > p.stiffness[2] >= result.goal.least_stiffness
