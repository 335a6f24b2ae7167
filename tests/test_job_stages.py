"""The table stages.csv: read, refused with every problem at once, appended whole or not at all."""

import os

import pytest

from platemodel.errors import JobError
from platemodel.instrument.bar_cuts import PLACES, bridge_height, cut
from platemodel.job import read_job
from platemodel.job.stages import (
    NAMES,
    RISE,
    STAGES_FILE,
    StageRow,
    add_stage,
    read_stages,
    stage_bars,
)
from platemodel.resources import data_path
from tests.trim_model import BAR, X

MM = 1e-3
HEAD = ",".join(NAMES)
GOOD = f"""# trimmed on one afternoon
{HEAD}
14.0,,,95.1,161,365.2,glue dry
13.5,all along,0.5,94.4,160.2,363.9,
,both flanks,0.4,,159.8,,"scraped, not planed"
13.4,,,94,,361,
"""


def write(folder, text):
    (folder / STAGES_FILE).write_text(text, encoding="utf-8")
    return folder


def problems(folder):
    with pytest.raises(JobError) as caught:
        read_stages(folder)
    return [(p.line, p.field, p.allowed) for p in caught.value.problems]


def test_read(tmp_path):
    rows = read_stages(write(tmp_path, GOOD))
    assert rows == (
        StageRow(14.0 * MM, heard={1: 95.1, 2: 161.0, 5: 365.2}, note="glue dry"),
        StageRow(13.5 * MM, "all along", 0.5 * MM, {1: 94.4, 2: 160.2, 5: 363.9}),
        StageRow(None, "both flanks", 0.4 * MM, {2: 159.8}, "scraped, not planed"),
        StageRow(13.4 * MM, heard={1: 94.0, 5: 361.0}),
    )
    assert [r.line for r in rows] == [3, 4, 5, 6]


def test_decimal_comma_and_other_order_of_columns(tmp_path):
    text = "f5_hz;height_mm\n365,2;14,0\n"
    assert read_stages(write(tmp_path, text)) == (StageRow(14.0 * MM, heard={5: 365.2}),)


def test_no_table_no_stages(tmp_path):
    assert read_stages(tmp_path) == ()
    write(tmp_path, "\n# nothing yet\n")
    assert read_stages(tmp_path) == ()


def test_every_wrong_cell_at_once(tmp_path):
    text = f"""{HEAD}
14,,,95,,,
13.5,all allong,0.5,94,,,
13.4,lower flank,,94,,,
13.4,,0.3,94,,,
1.35,,,94,,,
13.2,,,"94,5",1200,x,
,,,,,,only words
13.1,,,94,,,,,7
"""
    found = problems(write(tmp_path, text))
    assert [(line, field) for line, field, _ in found] == [
        (3, "place"),
        (4, "depth_mm"),
        (5, "place"),
        (6, "height_mm"),
        (7, "f1_hz"),
        (7, "f2_hz"),
        (7, "f5_hz"),
        (8, ""),
        (9, ""),
    ]
    allowed = [a for *_, a in found]
    assert "Did you mean all along?" in allowed[0]
    assert "centimetres" in allowed[3]
    assert "use a point" in allowed[4]
    assert allowed[5] == "allowed 10 to 900"


@pytest.mark.parametrize(
    ("header", "words"),
    [("height,f1_hz", "Did you mean height_mm?"), ("f1_hz,f2_hz", "height_mm must be there"),
     ("height_mm,height_mm", "each column once")],
)  # fmt: skip
def test_wrong_column_names(tmp_path, header, words):
    found = problems(write(tmp_path, f"{header}\n14,95\n"))
    assert any(words in allowed for *_, allowed in found)


def test_order_of_the_work(tmp_path):
    text = f"{HEAD}\n,all along,0.5,95,,,\n13.0,,,95,,,\n13.4,,,94,,,\n13.2,,,94,,,\n"
    assert [(line, field) for line, field, _ in problems(write(tmp_path, text))] == [
        (2, "height_mm"),
        (2, "place"),
        (4, "height_mm"),  # 0.4 mm more than before is beyond a caliper's error
    ]
    assert 0.2 * MM < RISE < 0.4 * MM
    assert len(read_stages(write(tmp_path, f"{HEAD}\n13.0,,,95,,,\n13.2,,,95,,,\n"))) == 2


def test_not_a_table(tmp_path):
    (tmp_path / STAGES_FILE).write_bytes(b"\x00\xff" * 50)
    assert problems(tmp_path)
    with pytest.raises(JobError, match="no such folder"):
        read_stages(tmp_path / "nowhere")
    assert "right file" in problems(write(tmp_path, HEAD + "\n" + "13,,,95,,,\n" * 150))[0][2]


# ---------------------------------------------------------------- bars


def test_bars_of_the_stages(tmp_path):
    rows = read_stages(write(tmp_path, GOOD))
    bars = stage_bars(BAR, rows, X)
    heights = [bridge_height(b, X) / MM for b in bars]
    assert heights == pytest.approx([14.0, 13.5, 13.5, 13.4], abs=1e-9)
    by_hand = cut(bars[1], PLACES[1], 0.4 * MM, X, 2 * MM)
    assert bars[2].height(by_hand.stations) == pytest.approx(by_hand.heights, abs=1e-9)
    assert bars[0].heights[[0, -1]] == pytest.approx(BAR.heights[[0, -1]])


def test_a_height_below_the_ends_is_a_problem_of_its_line(tmp_path):
    rows = read_stages(write(tmp_path, f"{HEAD}\n14,,,95,,,\n2.5,,,94,,,\n"))
    with pytest.raises(JobError) as caught:
        stage_bars(BAR, rows, X)
    (problem,) = caught.value.problems
    assert (problem.file, problem.line, problem.field) == (STAGES_FILE, 3, "height_mm")


# ---------------------------------------------------------------- appending


def test_add_to_nothing_and_again(tmp_path):
    first = StageRow(14 * MM, heard={1: 95.0, 5: 365.0}, note="a, b")
    second = StageRow(13.52 * MM, "both flanks", 0.45 * MM, {2: 160.25})
    add_stage(tmp_path, first, BAR, X)
    add_stage(tmp_path, second, BAR, X)
    assert read_stages(tmp_path) == (first, second)
    assert [p.name for p in tmp_path.iterdir()] == [STAGES_FILE]


def test_what_stands_there_stays(tmp_path):
    write(tmp_path, GOOD)
    add_stage(tmp_path, StageRow(13.2 * MM, "all along", 0.2 * MM, {5: 360.0}), BAR, X)
    assert (tmp_path / STAGES_FILE).read_text(encoding="utf-8").startswith(GOOD)
    write(tmp_path, "f5_hz;height_mm\n365,2;14,0\n")
    add_stage(tmp_path, StageRow(13.5 * MM, heard={5: 364.5}), BAR, X)
    found = (tmp_path / STAGES_FILE).read_text(encoding="utf-8")
    assert found == "f5_hz;height_mm\n365,2;14,0\n364,50;13,5\n"


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (StageRow(15 * MM, heard={5: 360.0}), "wood does not grow"),
        (StageRow(2.5 * MM, heard={5: 360.0}), "lower than the ends allow"),
        (StageRow(13 * MM, "all along", None, {5: 360.0}), "both place and depth_mm"),
        (StageRow(13 * MM, heard={5: 3600.0}), "10 to 900"),
        (StageRow(13 * MM, heard={5: 360.0}, note="x" * 300), "at most 200 letters"),
    ],
)
def test_a_stage_that_does_not_follow_is_refused_and_nothing_written(tmp_path, row, words):
    write(tmp_path, GOOD)
    with pytest.raises(JobError, match=words):
        add_stage(tmp_path, row, BAR, X)
    assert (tmp_path / STAGES_FILE).read_text(encoding="utf-8") == GOOD
    assert [p.name for p in tmp_path.iterdir()] == [STAGES_FILE]


def test_a_column_that_is_missing_is_told(tmp_path):
    write(tmp_path, "height_mm,f5_hz\n14,365\n")
    with pytest.raises(JobError, match="no column place"):
        add_stage(tmp_path, StageRow(13 * MM, "all along", 1 * MM, {5: 360.0}), BAR, X)


def test_a_failing_disk_leaves_the_table(tmp_path, monkeypatch):
    write(tmp_path, GOOD)

    def fail(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(OSError, match="No space"):
        add_stage(tmp_path, StageRow(13.2 * MM, heard={5: 360.0}), BAR, X)
    monkeypatch.undo()
    assert (tmp_path / STAGES_FILE).read_text(encoding="utf-8") == GOOD
    assert [p.name for p in tmp_path.iterdir()] == [STAGES_FILE]


def test_the_job_is_read_beside_it(tmp_path):
    """The table is for one verb only: whatever is in it, the job is read, and it is no stray table."""
    source = data_path("jobs", "modern_violin")
    for path in source.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    before = read_job(tmp_path)
    write(tmp_path, GOOD)
    assert [f.message for f in read_job(tmp_path).findings] == [f.message for f in before.findings]
    (tmp_path / STAGES_FILE).write_bytes(b"\xff\x00;;;,")
    read_job(tmp_path)
