"""Whatever lies in a job folder: a clear error or a valid job, never anything else."""

import shutil
import tempfile
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platemodel.errors import JobError
from platemodel.instrument.dimensions import dimensions
from platemodel.instrument.outline import Outline
from platemodel.job import Job, read_job
from platemodel.job.report import as_data, report
from platemodel.job.schema import KINDS, SECTIONS
from platemodel.job.template import example_values
from platemodel.resources import data_path

DEMO = data_path("jobs", "old_viola")
fuzz = settings(deadline=None, derandomize=True, max_examples=16)
fuzz_cheap = settings(deadline=None, derandomize=True, max_examples=100)


@contextmanager
def folder(files):
    """A job folder with the given bytes or texts."""
    path = Path(tempfile.mkdtemp())
    try:
        for name, content in files.items():
            raw = content if isinstance(content, bytes) else content.encode("utf-8", "surrogatepass")
            (path / name).write_bytes(raw)
        yield path
    finally:
        shutil.rmtree(path)


def read_or_error(files):
    with folder(files) as path:
        try:
            return read_job(path)
        except JobError as error:
            return error


def check(files):
    """Read a folder: a job with finite geometry and a printable report, or problems that say something."""
    outcome = read_or_error(files)
    if isinstance(outcome, JobError):
        assert outcome.problems
        for p in outcome.problems:
            assert p.file
            assert p.value
            assert p.allowed
            assert p.line is None or p.line >= 1
            assert str(p).isprintable()
        return outcome
    job = outcome
    assert isinstance(job, Job)
    for a in (job.top.outline.points, job.top.arching.values, job.top.thickness.values):
        assert np.isfinite(a).all()
    assert job.top.thickness.values.min() > 0
    assert job.top.mass_estimate() > 0
    if job.bar is not None:
        assert job.bar.mass() > 0
    assert report(job)
    assert as_data(job)["ok"]
    return job


@fuzz_cheap
@given(st.binary(max_size=400))
def test_any_bytes_as_job_file(raw):
    check({"job.toml": raw})


toml_like = st.text(
    alphabet=st.sampled_from(list("[]=\"'#.,\n\r\t {}0123456789-+einfa_mgbrty\\é\ufeff\x00")), max_size=200
)


@fuzz_cheap
@given(toml_like)
def test_any_text_as_job_file(text):
    check({"job.toml": '[job]\ninstrument = "violin"\n' + text})


TABLE_TOML = '[job]\ninstrument = "violin"\n[thickness]\npoints_file = "t.csv"\n'
cells = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True).map(str),
    st.integers(-400, 400).map(str),
    st.sampled_from(["", "2,5", "2.5", "x", "1e400", '"', "#", "2.5 mm", "\u2212 3", "٣"]),
)


@fuzz
@given(st.lists(st.lists(cells, max_size=5), max_size=20), st.sampled_from(",;\t"), st.booleans())
def test_any_table(rows, mark, grid):
    header = "x_mm|y_mm;-40;0;40" if grid else mark.join(("x_mm", "y_mm", "h_mm"))
    check({"job.toml": TABLE_TOML, "t.csv": header + "\n" + "\n".join(mark.join(r) for r in rows)})


@fuzz_cheap
@given(st.binary(max_size=300))
def test_any_bytes_as_table(raw):
    check({"job.toml": TABLE_TOML, "t.csv": raw})


# One file of a sound job, with bytes taken out, doubled or overwritten.
@fuzz
@given(st.data())
def test_damaged_demo(data):
    files = {p.name: p.read_bytes() for p in DEMO.iterdir()}
    name = data.draw(st.sampled_from(sorted(files)))
    raw = files[name]
    for _ in range(data.draw(st.integers(1, 3))):
        a = data.draw(st.integers(0, len(raw)))
        b = data.draw(st.integers(a, min(len(raw), a + 40)))
        raw = raw[:a] + data.draw(st.one_of(st.binary(max_size=5), st.just(raw[a:b] * 2))) + raw[b:]
    check({**files, name: raw})


def toml_value(field):
    """Values of one field, mostly within the range."""
    if field.kind == "number":
        inside = st.floats(field.low, field.high, allow_nan=False)
        return st.one_of(inside, inside, st.floats(), st.integers(-10, 1000)).map(repr)
    if field.kind == "choice":
        return st.sampled_from([f'"{c}"' for c in field.choices])
    return st.sampled_from(
        {"flag": ["true", "false"], "date": ["2024-02-29"]}.get(field.kind, ['"abc"', '"Norway spruce"'])
    )


@fuzz
@given(st.data())
def test_any_fields(data):
    lines = []
    for section in SECTIONS:
        lines.append(f"[{section.name}]")
        for field in section.fields:
            if field.required or (field.kind != "file" and data.draw(st.integers(0, 5)) == 0):
                lines.append(f"{field.key} = {data.draw(toml_value(field))}")
    check({"job.toml": "\n".join(lines)})


USUAL = {kind: example_values(d := dimensions(kind), Outline.preset(kind, d.body_length)) for kind in KINDS}


@fuzz
@given(st.data())
def test_odd_proportions(data):
    """Every field by itself possible, between 0.8 and 1.25 of the usual: strange shapes, but no nonsense."""
    kind = data.draw(st.sampled_from(KINDS))
    lines = []
    for section in SECTIONS:
        lines.append(f"[{section.name}]")
        for field in section.fields:
            name = f"{section.name}.{field.key}"
            if field.required:
                lines.append(f'{field.key} = "{kind}"')
            elif field.kind == "number" and data.draw(st.integers(0, 2)) == 0:
                middle = float(USUAL[kind][name])
                low, high = (max(field.low, 0.8 * middle), min(field.high, 1.25 * middle))
                if middle == 0:
                    low, high = field.low, field.high
                lines.append(f"{field.key} = {data.draw(st.floats(low, high))!r}")
            elif field.kind == "choice" and data.draw(st.booleans()):
                lines.append(f"{field.key} = {data.draw(toml_value(field))}")
    check({"job.toml": "\n".join(lines)})


@fuzz
@given(
    st.lists(st.tuples(st.floats(0, 355), st.floats(-110, 110)), min_size=24, max_size=60),
    st.booleans(),
    st.floats(0, 60),
)
def test_any_traced_outline(points, as_loop, wobble):
    p = np.array(points)
    if as_loop:  # star-shaped round the middle, so that many are simple
        angle = np.linspace(0, 2 * np.pi, len(p), endpoint=False)
        r = 1 + wobble / 200 * np.sin(p[:, 1])
        p = np.c_[177.5 + 177.5 * r * np.cos(angle), 100 * r * np.sin(angle)]
    text = "x_mm;y_mm\n" + "\n".join(f"{x:.3f};{y:.3f}" for x, y in p)
    toml = '[job]\ninstrument = "violin"\n[outline]\npoints_file = "o.csv"\n[bar]\n'
    check({"job.toml": toml, "o.csv": text})


def test_the_checker_itself_can_fail():
    # A sound folder gives a job, another problems: the tests above do not pass by refusing everything.
    assert isinstance(check({"job.toml": '[job]\ninstrument = "cello"\n[bar]\n'}), Job)
    assert isinstance(check({"job.toml": '[job]\ninstrument = "cell"\n'}), JobError)
    with pytest.raises(FileNotFoundError), folder({}) as path:
        (path / "job.toml").read_bytes()
