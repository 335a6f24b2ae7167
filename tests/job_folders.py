"""Job folders for the tests."""

import pytest

from platemodel.errors import JobError
from platemodel.job import read_job

VIOLIN = '[job]\ninstrument = "violin"\n'


def write(folder, toml, **tables):
    """A job folder with job.toml and CSV tables."""
    (folder / "job.toml").write_text(toml, encoding="utf-8")
    for name, text in tables.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def readings(h=2.6, form="{x},{y},{h}"):
    """A caliper table over a violin, the same everywhere."""
    rows = [form.format(x=x, y=y, h=h) for x in range(20, 340, 20) for y in (-50, -25, 0, 25, 50)]
    return "x_mm,y_mm,h_mm\n".replace(",", ";" if ";" in form else ",") + "\n".join(rows) + "\n"


def table(header, rows):
    return header + "\n" + "\n".join(",".join(f"{v:.2f}" for v in row) for row in rows) + "\n"


def problems(folder):
    """Problems of a folder as text, one a line."""
    with pytest.raises(JobError) as caught:
        read_job(folder)
    return [str(p) for p in caught.value.problems]
