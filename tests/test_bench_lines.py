"""Lines that a bar could have: which they are, what they do, and the choice among them."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from platemodel.bench.choice import result as choice
from platemodel.bench.kit.old_bar import old_figures
from platemodel.bench.lines import result as lines
from platemodel.bench.lines.page import lines_page
from platemodel.instrument import layout
from platemodel.instrument.candidate_lines import MOST, PLANNED, candidate_lines, on_line
from platemodel.instrument.marks import Mark
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.job import read_job
from platemodel.progress import no_message
from platemodel.study.top.foot import bass_foot_stiffness
from tests.job_folders import VIOLIN, write
from tests.quick import QuickBench

BAR = '[bar]\nrule = "placed"\nedge = "inner"\nlower_end_from_axis_mm = 14\nupper_end_from_axis_mm = 11\n'


@pytest.fixture(scope="module")
def top():
    return preset_top("violin")


OLD_BAR = """[old_bar]
rule = "placed"
edge = "inner"
lower_end_from_axis_mm = 19
upper_end_from_axis_mm = 9
length_mm = 262
width_mm = 5
height_mm = 9.5
"""


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    job = read_job(write(tmp_path_factory.mktemp("job"), VIOLIN + BAR + OLD_BAR))
    bench = QuickBench(job.top, job.bar, job.set_up)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(lines, "FINENESS", 0.4)
        yield lines.job_lines(job, bench), bench


def test_rules_that_lead_to_one_line_are_named_together(top):
    """The usual bar lies where the foot's rule puts it, and clear of everything."""
    found = candidate_lines(top, preset_bar(top))
    assert 2 <= len(found) <= MOST
    assert found[0].names[0] == PLANNED
    assert "foot's rule" in found[0].name
    assert found[0].lines == ()
    ends = [(c.bar.y_start, c.bar.y_end) for c in found]
    assert all(np.abs(np.subtract(a, b)).max() > 0.2e-3 for k, a in enumerate(ends) for b in ends[:k])


def test_the_two_readings_of_the_rule_stand_half_a_width_apart(top):
    bar = preset_bar(top)
    inner, middle = (on_line(bar, layout.one_seventh(top.outline, e)) for e in ("inner", "middle"))
    assert middle.y_start - inner.y_start == pytest.approx(bar.width / 2 * np.hypot(1, bar.slope), abs=1e-6)


def test_one_line_keeps_clear_of_the_eye_and_one_of_a_crack(top):
    bar = preset_bar(top)
    out = replace(bar, y_start=bar.y_start - 3e-3, y_end=bar.y_end - 3e-3)
    crack = Mark("crack", [(0.10, float(out.at(0.10))), (0.15, float(out.at(0.15)))])
    found = {c.names[0]: c for c in candidate_lines(top, out, [crack])}
    assert "hole" in {f.kind for f in found[PLANNED].conflicts}
    clear = found["clear of the eye, slant kept"]
    assert "hole" not in {f.kind for f in clear.conflicts}
    assert clear.bar.slope == pytest.approx(out.slope, abs=0.1 / 275)  # set out to a tenth of a mm
    beside = found["clear of the crack, slant kept"]
    assert "crack" not in {f.kind for f in beside.conflicts}
    assert beside.bar.polygon.distance(crack.shape) >= 1.9e-3  # 2 mm, less what setting out takes


def test_lines_to_type_put_the_bar_there(top, tmp_path):
    bar = read_job(write(tmp_path, VIOLIN + BAR)).bar
    other = candidate_lines(top, bar)[1]
    typed = read_job(write(tmp_path, VIOLIN + "[bar]\n" + "\n".join(other.lines) + "\n")).bar
    assert (typed.y_start, typed.y_end) == pytest.approx((other.bar.y_start, other.bar.y_end), abs=1e-6)


def test_the_planned_line_has_the_figures_of_the_other_pages(found):
    result, bench = found
    first = result.table.iloc[0]
    for n in (1, 2, 5):
        assert first[f"f{n}_hz"] == pytest.approx(bench.with_bar.frequency(n), rel=1e-12)
    foot = bass_foot_stiffness(bench.model, bench.bar).middle
    assert first["foot_n_per_mm"] == pytest.approx(1e-3 * foot, rel=1e-12)
    assert first["lower_mm"] == pytest.approx(14.0)
    assert first["upper_mm"] == pytest.approx(11.0)
    # the same bar on another line a few mm away: tones within some per cent, another stiffness under the foot
    others = result.table.iloc[1:-1]  # the last is the old bar
    assert (abs(others["f2_hz"] / first["f2_hz"] - 1) < 0.05).all()
    assert (others["foot_n_per_mm"] > 0).all()


def test_text_and_page_say_what_to_type_and_hold_every_line(found):
    result, _ = found
    text = lines.as_text(result)
    page = lines_page(result)
    words = [t.get_text() for ax in page.axes for t in ax.texts]
    for candidate in result.candidates[1:]:
        for line in candidate.lines:
            assert f"    {line}\n" in text
            assert line.split(" = ")[1] in words
    assert min(t.get_fontsize() for ax in page.axes for t in ax.texts) >= 8
    data = lines.as_data(result)
    assert [d["line"] for d in data["lines"]] == [c.name for c in result.candidates]


def test_the_old_bar_stands_last_with_the_figures_of_the_other_pages(found, tmp_path):
    result, bench = found
    job, last, row = result.job, result.candidates[-1], result.table.iloc[-1]
    assert last.bar is job.old_bar
    figures = old_figures(job, bench)
    assert {name: row[name] for name in lines.FIGURES} == {name: figures[name] for name in lines.FIGURES}
    assert (row["lower_mm"], row["upper_mm"]) == pytest.approx((19.0, 9.0))
    # lower, narrower, shorter: lighter and softer than every line of the planned bar
    assert (row[["bar_g", "foot_n_per_mm"]] < result.table[["bar_g", "foot_n_per_mm"]].iloc[:-1].min()).all()
    # what stands below it to type puts the planned bar along its middle line
    typed = read_job(write(tmp_path, VIOLIN + "[bar]\n" + "\n".join(last.lines) + "\n")).bar
    ends = np.array([typed.x_start, typed.x_end])
    assert typed.at(ends) == pytest.approx(job.old_bar.at(ends), abs=0.11e-3)  # typed to a tenth of a mm
    assert lines.OLD_NOTE in lines.as_text(result)


def test_a_bar_with_no_wood_under_it_gets_no_figures(found):
    result, _ = found
    over = replace(result.candidates[0], seated=False)
    figures = lines._figures(result.job.top, over)
    assert np.isnan(figures["f1_hz"])
    bare = replace(result, candidates=(over,), table=result.table.iloc[:1].assign(f1_hz=np.nan))
    assert lines.shown(bare, 0, "f1_hz") == "no wood there"
    assert lines.shown(replace(bare, candidates=result.candidates[:1]), 0, "f1_hz") == "no clean tone"


NARROW_CELLO = """
[job]
instrument = "cello"
[outline]
body_length_mm = 741
[sound_holes]
eye_spacing_mm = 88
[bridge]
foot_span_mm = 90
[bar]
rule = "bridge_foot"
length_mm = 580
width_mm = 11
"""


def picked_line(job, bar, masses, met):
    """Line that is taken with these invented answers, and the lines that were tried."""
    answers = iter(zip(masses, met, strict=True))

    def choose(one):
        mass, all_met = next(answers)
        return choice.JobChoice(one, SimpleNamespace(height_mm=12.0, figures={"bar_g": mass}, met=all_met))

    picked = choice._over_lines(job, bar, choose, no_message)
    (taken,) = [t for t in picked.lines if t.chosen]
    return taken, picked


def test_of_bars_equally_light_the_one_with_the_least_in_its_way_is_taken(tmp_path):
    """A tenth of a per cent of weight does not outweigh a bar far inside its foot."""
    job = read_job(write(tmp_path, NARROW_CELLO))
    tried = [c for c in candidate_lines(job.top, job.bar, job.marks) if c.seated]
    clear = [k for k, c in enumerate(tried) if not any(f.kind in choice.RULED_OUT for f in c.conflicts)]
    least = min(clear, key=lambda k: len(tried[k].conflicts))
    masses = [2.0 * (1.0 - 1e-3 * (k != least)) for k in range(len(tried))]
    taken, _ = picked_line(job, job.bar, masses, [True] * len(tried))
    assert len(tried[least].conflicts) < max(len(tried[k].conflicts) for k in clear)
    assert taken.name == tried[least].name


def test_choice_takes_the_lightest_that_meets_all_and_is_clear(found):
    """Invented answers: the first has the hole in its way, the next misses a target: so the third it is."""
    job = found[0].job
    moved = replace(job.bar, y_start=job.bar.y_start - 3e-3, y_end=job.bar.y_end - 3e-3)
    job = replace(job, bar=moved)
    tried = [c for c in candidate_lines(job.top, moved) if c.seated]
    assert any(f.kind == "hole" for f in tried[0].conflicts)
    chosen, picked = picked_line(job, moved, [1.0, 3.0, 2.0, 2.5], [True, True, False, True])
    assert len(tried) == 4
    assert chosen.name == tried[3].name
    assert picked.job.bar.y_start == tried[3].bar.y_start
    assert any(t.startswith("type in [bar]: lower_end_from_axis_mm") for t in choice.line_texts(picked))
