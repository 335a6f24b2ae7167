"""Marks on a top: the table marks.csv, and what stands in a bar's way."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from platemodel.instrument.mark_checks import check_blocks, check_marks, crossings
from platemodel.instrument.marks import Mark, place
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.job import read_job
from tests.job_folders import VIOLIN, problems, write

HEAD = "kind;x1_mm;y1_mm;x2_mm;y2_mm;length_mm;width_mm;note\n"
MM = 1e-3


@pytest.fixture(scope="module")
def bar():
    return preset_bar(preset_top("violin"))


def test_a_table_by_hand_is_read_with_what_is_usual(tmp_path):
    rows = (
        "crack;90;-40;150;-42;;;closed\n"
        "Crack;250;20;;;30;;\n"
        "cleat;120;-41;;;;;\n"
        "post patch;150;22;;;40;30,5;\n"
        "old bar;40;-18;315;-15;;;\n"
    )
    job = read_job(write(tmp_path, VIOLIN, marks=HEAD + rows))
    assert "marks.csv" in job.files
    first, second, cleat, patch, scar = job.marks
    assert first.note == "closed"
    assert first.points == pytest.approx(MM * np.array([[90, -40], [150, -42]]))
    assert second.points == pytest.approx(MM * np.array([[250, 20], [280, 20]]))  # up the grain
    assert cleat.shape.area == pytest.approx((12 * MM) ** 2)  # 12 x 12 mm, common practice
    assert patch.shape.area == pytest.approx(40 * 30.5 * MM**2)
    # 275 mm long, 3 mm nearer to the axis at the upper end, and as wide as the usual violin's bar
    assert scar.shape.area == pytest.approx(np.hypot(275, 3) * 5.5 * MM**2, rel=1e-6)
    assert not [f for f in job.findings if f.kind == "file"]


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("scratch;90;-40;;;;;", "allowed: crack, cleat, patch, worm, post patch, old bar"),
        ("crack;90;-40;;;;;", "a crack needs a second point, or a length"),
        ("crack;90;-40;120;;;;", "the two go together"),
        ("old bar;90;-40;;;;;", "an old bar has two"),
        ("patch;90;-40;;;;;", "a patch needs its length"),
        ("cleat;90;-40;100;-40;;;", "one point and its length, or 3 or 4 corners"),
        ("cleat;90;-140;;;;;", "off the plate"),
        ("crack;90;-40;90;-40;;;", "two of its points are the same"),
    ],
)
def test_slips_are_refused_with_what_helps(tmp_path, row, words):
    (found,) = problems(write(tmp_path, VIOLIN, marks=HEAD + row + "\n"))
    assert found.startswith("marks.csv, line 2")
    assert words in found


def test_a_crack_under_the_bar(bar):
    x, middle = 0.10, float(bar.at(0.10))
    along = Mark("crack", [[x, middle], [x + 0.05, float(bar.at(x + 0.05))]])
    (found,) = check_marks(bar, [along])
    assert found.kind == "crack"
    assert found.value_mm == pytest.approx(50, abs=0.1)  # 50 mm along the axis; the slant adds 1e-4 of it
    beside = replace_points(along, [0, 2.0 * bar.width])
    assert check_marks(bar, [beside]) == []


def replace_points(mark, step):
    return replace(mark, points=mark.points + np.array(step))


def test_a_crack_that_points_at_the_bars_end(bar):
    """Taken to run on for 25 mm, a crack that stops 15 mm short of the end meets it; at 30 mm it does not."""
    y = float(bar.at(bar.x_end))
    for gap, hit in ((15 * MM, True), (30 * MM, False)):
        crack = Mark("crack", [[bar.x_end + gap, y], [bar.x_end + gap + 20 * MM, y]])
        found = check_marks(bar, [crack])
        assert bool(found) is hit
        if hit:
            assert found[0].message.startswith("upper end of the bar on the line of a crack")
            assert found[0].value_mm == pytest.approx(15, abs=0.01)


def test_a_bars_end_on_a_cleat_and_a_cleat_under_its_middle(bar):
    end = place("cleat", (bar.x_start, bar.y_start), 12 * MM, 12 * MM)
    under = place("cleat", (0.15, float(bar.at(0.15))), 12 * MM, 12 * MM)
    clear = place("cleat", (0.15, float(bar.at(0.15)) - 10 * MM), 12 * MM, 12 * MM)
    found = check_marks(bar, [end, under, clear])
    assert [f.message for f in found] == ["lower end of the bar on a cleat", "a cleat lies under the bar"]
    # half of the cleat, or all its length, over the width of the bar
    assert found[0].value_mm == pytest.approx(6 * bar.width / MM, rel=0.02)
    assert found[1].value_mm == pytest.approx(12 * bar.width / MM, rel=0.02)


def test_patch_and_worm(bar):
    at = (0.2, float(bar.at(0.2)))
    found = check_marks(bar, [place("patch", at, 0.03, 0.03), place("worm", at, 0.01, 0.01)])
    assert {f.kind for f in found} == {"patch", "worm"}
    whole = place("patch", (0.1775, -0.02), 0.355, 0.2)  # the bar lies all on it
    assert check_marks(bar, [whole]) == []


def test_clamp_blocks_on_marks(bar):
    blocks = [SimpleNamespace(x=x, y=float(bar.at(x)), along=0.02, across=0.02) for x in (0.1, 0.2)]
    patch = place("patch", (0.1, float(bar.at(0.1)) - 0.015), 0.02, 0.02)
    (found,) = check_blocks(blocks, [patch, place("patch", (0.3, 0.03), 0.01, 0.01)])
    assert found.message == "clamp block at 100 mm presses on a patch"


def test_where_a_mark_meets_the_bar(bar):
    """A cleat from x 144 to 156 mm: counted from the bar's lower end along it."""
    low, high = crossings(bar, place("cleat", (0.15, float(bar.at(0.15))), 12 * MM, 20 * MM))
    assert low == pytest.approx(0.144 - bar.x_start, abs=0.1 * MM)
    assert high - low == pytest.approx(12 * MM, abs=0.1 * MM)
    assert crossings(bar, place("cleat", (0.15, 0.05), 12 * MM, 20 * MM)) is None


def test_a_job_tells_the_conflicts_of_its_marks(tmp_path):
    job = read_job(write(tmp_path, VIOLIN + "[bar]\n", marks=HEAD + "worm;160;-16;;;4;;\n"))
    assert [f.message for f in job.findings if f.kind == "worm"] == ["worm under the bar"]
