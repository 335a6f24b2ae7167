"""The table day.csv of the decisive day."""

import pytest

from platemodel.errors import JobError
from platemodel.job.day import NAMES, blank_day, read_day

HEAD = "height_mm,f5_hz,along_g,along_mm,relative_humidity_percent\n"
ROWS = "0,320,500,0.41,45\n16,352,500,0.21,45\n15,351,500,0.215,46\n14,350,,,46\n13,349,500,0.225,47\n"


def test_rows_are_read(tmp_path):
    (tmp_path / "day.csv").write_text(HEAD + ROWS)
    rows = read_day(tmp_path)
    assert [r.height for r in rows] == pytest.approx([0, 0.016, 0.015, 0.014, 0.013])
    assert rows[1].sags == {"along": (500.0, 0.21)}
    assert rows[3].sags == {}
    assert rows[1].relative_humidity == pytest.approx(0.45)


def test_a_blank_day_is_no_day(tmp_path):
    assert read_day(tmp_path) == ()
    text = blank_day((0, 16, 15))
    assert text.splitlines()[1] == ",".join(NAMES)
    (tmp_path / "day.csv").write_text(text)
    assert read_day(tmp_path) == ()


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (ROWS.replace("16,352", "160,352"), "0 to 60"),
        (ROWS.replace("500,0.21,", "500,,"), "the two go together"),
        ("0,320,,,\n16,352,,,\n15,351,,,\n", "at 4 heights or more"),
    ],
)
def test_refused(tmp_path, rows, words):
    (tmp_path / "day.csv").write_text(HEAD + rows)
    with pytest.raises(JobError, match=words):
        read_day(tmp_path)
