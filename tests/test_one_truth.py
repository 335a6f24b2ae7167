"""One truth on every job: no page or text with a hole in it, and a figure of one name is one figure."""

import re
from functools import cached_property

import numpy as np
import pytest
from matplotlib.text import Text

from platemodel.bench.body import report as body
from platemodel.bench.body.page import body_pages
from platemodel.bench.body.result import job_body
from platemodel.bench.choice import report as choice
from platemodel.bench.choice.page import choice_pages
from platemodel.bench.choice.result import job_choice
from platemodel.bench.day import report as day
from platemodel.bench.day.page import day_sheet
from platemodel.bench.day.result import job_day
from platemodel.bench.flex import report as flex
from platemodel.bench.flex.page import flex_page
from platemodel.bench.flex.result import job_flex, sag_mm
from platemodel.bench.glue import report as glue
from platemodel.bench.glue.page import glue_pages
from platemodel.bench.kit.needs import job_bench
from platemodel.bench.kit.tones import sentence
from platemodel.bench.kit.wood_doubt import wood_spread
from platemodel.bench.layout import report as layout
from platemodel.bench.lines.page import lines_page
from platemodel.bench.load import report as load
from platemodel.bench.load.page import load_pages
from platemodel.bench.load.result import job_load
from platemodel.bench.modes import report as modes
from platemodel.bench.modes.page import mode_page
from platemodel.bench.modes.result import job_modes
from platemodel.bench.pack import plan as planning
from platemodel.bench.pack.first_page import first_page
from platemodel.bench.pack.job_sheet import job_pages
from platemodel.bench.pack.spring_page import spring_page
from platemodel.bench.pack.stop_sheet import stop_sheet
from platemodel.bench.pack.work_order import work_order_pages
from platemodel.bench.record.owner_page import owner_page
from platemodel.bench.sheets import layout_pages, template_pages
from platemodel.bench.sounds import report as sounds
from platemodel.bench.sounds.result import RATE, job_sounds
from platemodel.bench.strokes import report as strokes
from platemodel.bench.strokes.page import stroke_page
from platemodel.bench.strokes.result import job_strokes
from platemodel.bench.taps import report as taps
from platemodel.bench.taps.page import tap_pages
from platemodel.bench.taps.result import job_taps
from platemodel.bench.trim import report as trim
from platemodel.bench.trim.page import trim_pages
from platemodel.bench.trim.result import job_trim
from platemodel.instrument.bar_cuts import bridge_height
from platemodel.job import read_job
from platemodel.job.report import report
from platemodel.job.stages import StageRow
from platemodel.study.top.tap_sound import Take, tap_sound
from platemodel.study.top.workbench import Workbench
from platemodel.wood.estimate import HALF_WIDTH
from tests.job_folders import VIOLIN, write
from tests.paper_faults import faults
from tests.unlike_jobs import UNLIKE

MESH = 0.5  # the coarsest that carries the seats of all these jobs
NO_RING = "no clean ring tone with this bar: do not listen for mode 5; go by height, weight and flex"
NOTHING = r"\bnan\b|\binf\b|\bNone\b"
NO_FIGURE = r"[(:] (?:mm|Hz|N/mm|kgf|MPa)[,;.)]"  # a unit of nothing
SIGNED_NOUGHT = r"(?<![\d.])[-+−]0\.0+(?!\d)"  # a change of nothing
TAPPED = VIOLIN + "[bar]\n[measured]\nmode_1_hz = 96\nmode_2_hz = 165\nmode_5_hz = 372\n"


class Coarse(Workbench):
    """On one coarse mesh all through."""

    def on_mesh(self, fineness):
        return self


def coarse(job, fineness=1.0, progress=None):
    return Coarse(job.top, job.bar, job.set_up, MESH, progress, job_bench(job).doubt)


def words(figure):
    """Texts of a page; a column's unit alone in its head is no hole."""
    return [t.get_text() for t in figure.findobj(Text) if t.get_visible()]


class Told:
    """Everything the verbs say of a job that has a bar."""

    def __init__(self, job, closed=True):
        self.job, self.bench = job, coarse(job)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(planning, "job_bench", lambda *_, **__: self.bench)
            self.plan = planning.plan_job(job)
        self.choice = job_choice(job, {}, bench=self.bench)
        height = bridge_height(job.bar, job.top.bridge.x)
        rows = (StageRow(height, heard={1: self.bench.tones()[1]}),)
        self.trim = job_trim(job, rows, {1: 0.97 * self.bench.tones()[1]}, bench=self.bench)
        self.flex = job_flex(job, bench=self.bench)
        self.bodies = [job_body(job, bench=self.bench)] if closed else []
        self.strokes = job_strokes(job, bench=self.bench)
        self.day = job_day(job, bench=self.bench)
        self.sounds = job_sounds(job, bench=self.bench)
        heard = tap_sound(self.plan.modes.without, 1, take=Take(taps=2, rate=RATE))
        self.taps = job_taps(job, [heard], bar_on=False, bench=self.bench)

    def texts(self):
        p = self.plan
        yield report(p.job)
        for kind, result in (
            (modes, p.modes), (load, p.load), (glue, p.glue), (layout, p.layout), (choice, self.choice),
            (trim, self.trim), (flex, self.flex), (day, self.day), (sounds, self.sounds), (taps, self.taps),
            (strokes, self.strokes), *((body, one) for one in self.bodies),
        ):  # fmt: skip
            yield kind.REPORT.text(result)

    @cached_property
    def pages(self):
        """Drawn once for all tests."""
        return list(self._drawn())

    def _drawn(self):
        p = self.plan
        yield from (first_page(p), *job_pages(p), stop_sheet(p), mode_page(p.modes), *load_pages(p.load))
        yield from (*glue_pages(p.glue), *choice_pages(self.choice), *trim_pages(self.trim))
        yield from (lines_page(p.lines), spring_page(p), *work_order_pages(p), owner_page(p.job))
        yield from (flex_page(self.flex), day_sheet(self.day), stroke_page(self.strokes))
        yield from tap_pages(self.taps)
        yield from (page for one in self.bodies for page in body_pages(one))
        yield from (*layout_pages(p.layout, "A4", False), *template_pages(p.layout, "A4"))


JOBS = ("small_viola", "demo", "old_cello", "tapped")


@pytest.fixture(scope="module", params=[pytest.param(name, marks=pytest.mark.slow) for name in JOBS])
def told(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp(request.param)
    made = write(folder, TAPPED) if request.param == "tapped" else UNLIKE[request.param](folder)
    # two closed bodies are enough, of a small viola and a cello; a violin's pages are in test_bench_body
    return request.param, Told(read_job(made), closed=request.param in ("small_viola", "old_cello"))


def test_no_text_has_a_hole(told):
    for text in told[1].texts():
        for line in text.splitlines():
            assert not re.search(NOTHING, line), line
            assert not re.search(NO_FIGURE, line), line
            assert not re.search(SIGNED_NOUGHT, line), line


def test_no_page_has_a_hole(told):
    for figure in told[1].pages:
        for text in words(figure):
            assert not re.search(NOTHING, text), text
            assert not text.rstrip().endswith(("...", "…")), text  # a sentence cut short
            assert not re.search(NO_FIGURE, text), text
            assert not re.search(SIGNED_NOUGHT, text), text


def test_every_page_is_legible(told):
    """Three sizes of type, none under 8 pt; no words off the paper, over each other or on a line."""
    for figure in told[1].pages:
        assert list(faults(figure)) == []


def test_a_figure_of_one_name_is_one_figure(told):
    told = told[1]
    p, bench, job = told.plan, told.bench, told.job
    tones, final = bench.tones(), p.stops.iloc[-1]
    given = told.choice.choice.comparison.set_index("bar").loc["the bar given"]
    lines = p.lines.table.iloc[0]
    stages = told.trim.proposal.correction.table.query("stage == 1").set_index("number")
    for n in (1, 2, 5):
        f = p.modes.with_bar.frequency(n)
        for found in (tones[n], final[f"f{n}_hz"], lines[f"f{n}_hz"]):
            assert found == pytest.approx(f, rel=1e-9, nan_ok=True), n
        # reduced models are as good as their tolerance
        for found in (given[f"f{n}_hz"], stages["computed_hz"][n]):
            assert found == pytest.approx(f, rel=1e-3, nan_ok=True), n
    bands = p.modes.bands[-1].table.set_index("number")
    followed = told.trim.proposal.correction.table.query("stage == 1").set_index("number")
    for n, band in bands["sum_hz"].items():
        assert final[f"f{n}_band_hz"] == pytest.approx(band, rel=1e-9), n
        if n != 1:  # which was heard, and so is known better
            assert HALF_WIDTH * followed["sd_hz"][n] == pytest.approx(band, rel=1e-3), n  # the same tolerance
    foot = final["foot_n_per_mm"]
    for found in (lines["foot_n_per_mm"], given["foot_n_per_mm"], 1e-3 * told.trim.full_stiffness):
        assert found == pytest.approx(foot, rel=2e-3)
    for flexed in told.flex.with_bar:
        kind = flexed.test.name
        if f"flex_{kind}_g" in final and np.isfinite(final[f"flex_{kind}_g"]):
            expected = sag_mm(flexed, final[f"flex_{kind}_g"])
            assert final[f"flex_{kind}_mm"] == pytest.approx(expected, rel=1e-6)
    without = told.sounds.table.query("plate == 'without bar'").set_index("number")["f_hz"]
    for n, f in without.items():  # sixteen modes instead of eight: another run of the same search
        assert f == pytest.approx(p.modes.without.frequency(n), rel=1e-6)
        assert told.taps.modes.frequency(n) == pytest.approx(f, rel=1e-6)
    assert final["bar_g"] == pytest.approx(given["bar_g"]) == pytest.approx(1e3 * job.bar.mass())
    assert final["height_mm"] == pytest.approx(given["height_mm"])
    assert p.load.load.wood_spread == pytest.approx(wood_spread(job, bench, job.bar))
    sunk = p.load.load.table.set_index("state")["sink_bass_mid_mm"]["with bar"]
    assert given["sink_mm"] == pytest.approx(sunk, rel=2e-3)


def test_a_missing_ring_tone_is_told_in_words(told):
    name, told = told
    if name != "small_viola":
        assert all(NO_RING not in text for text in told.texts())
        return
    texts = list(told.texts())
    modes_text, choice_text, trim_text = texts[1], texts[5], texts[6]
    plan = told.plan
    shown = (stop_sheet(plan), mode_page(plan.modes), *choice_pages(told.choice), *trim_pages(told.trim))
    pages = " ".join(" ".join(w for figure in shown for w in words(figure)).split())
    for text in (pages, modes_text, choice_text, trim_text):
        assert NO_RING.lower() in " ".join(text.split()).lower()


def test_taps_that_lie_apart_are_told_by_all_alike(told):
    name, told = told
    expected = "run `wood` first"
    findings = [f.message for f in told.plan.job.findings if f.kind == "taps and model"]
    texts = [" ".join(t.split()) for t in told.texts()]
    told_by = {k for k, text in enumerate(texts) if expected in text}
    if name != "tapped":
        assert (findings, told_by) == ([], set())
        return
    (finding,) = findings
    assert expected in finding
    assert told_by == {0, 1, 2, 5, 6}  # check, modes, load, choose, trim
    assert all(finding in texts[k] or finding[1:] in texts[k] for k in told_by)


def test_what_is_in_the_way_is_told_by_all_alike(told):
    """Of the bar as planned, and of the one that is chosen on its line; by page, text and layout."""
    name, told = told
    texts = [" ".join(t.split()) for t in told.texts()]
    (page, _) = choice_pages(told.choice)
    shown = " ".join(" ".join(words(page)).split())
    conflicts = told.plan.layout.conflicts
    assert any(f.kind == "hole" for f in conflicts) == (name in ("demo", "old_cello"))
    for finding in conflicts:
        said = sentence(finding.message)
        assert all(said in texts[k] for k in (0, 4, 5))  # check, layout, choose
        assert said in shown


@pytest.mark.parametrize("name", ["small_viola", "soft_violin"])
def test_the_modes_of_one_job_with_bar_and_one_without(name, tmp_path):
    """What of all this takes seconds only."""
    job = read_job(UNLIKE[name](tmp_path))
    result = job_modes(job, bench=coarse(job))
    text = modes.REPORT.text(result)
    shown = " ".join(" ".join(words(mode_page(result))).split())
    assert not re.search(NOTHING, text + shown)
    told = NO_RING.lower() in " ".join(text.split()).lower() and NO_RING.lower() in shown.lower()
    assert told == (name == "small_viola")


@pytest.mark.slow
def test_a_load_without_bar_has_no_holes_either(tmp_path):
    job = read_job(UNLIKE["soft_violin"](tmp_path))
    result = job_load(job, bench=coarse(job))
    shown = " ".join(w for page in load_pages(result) for w in words(page))
    assert not re.search(NOTHING, load.REPORT.text(result) + shown)
