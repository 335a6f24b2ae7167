"""What notebooks and lessons are made of: pictures of plates, steppers, folded answers, the index."""

import json
import re

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.figure import Figure

from platemodel.bench.kit.wrapped_text import wrapped
from platemodel.bench.notebook.answers import Answers
from platemodel.bench.notebook.notebook_index import notebook_index
from platemodel.bench.notebook.plate_plots import draw_plate_mode, draw_tap_levels
from platemodel.bench.notebook.stepper import stepper
from platemodel.job import read_job
from platemodel.resources import data_path, shipped_path
from platemodel.study import top_model
from platemodel.study.wood.free_plate import free_plate, plate_tap
from platemodel.wood import from_species

mpl.use("agg")


def test_long_lines_break_between_words_and_short_ones_stay():
    text = "Distances, mm\n    97.2  axis to edge, bass side\n\n  - " + "bar too close to the hole; " * 9
    lines = wrapped(text, 60).split("\n")
    assert lines[:3] == text.split("\n")[:3]
    assert max(map(len, lines)) <= 60
    assert all(line.startswith("    ") for line in lines[4:])  # two further in than the dash
    assert " ".join(" ".join(lines).split()) == " ".join(text.split())


def test_rows_of_a_table_and_long_words_are_not_broken():
    row, path = "  mode 1" + 12 * "   54.7", "in " + "folder/" * 20
    assert wrapped(f"{row}\n{path}", 60).split("\n") == [row, "in", f"  {path[3:]}"]


def test_the_meshes_of_the_notebooks_carry_the_bar_of_the_demo():
    """It lies over the edge of a sound hole, and the first cells offer any demo."""
    cells = [p.read_text(encoding="utf-8") for p in shipped_path("notebooks").glob("*.ipynb")]
    found = [float(v) for text in cells for v in re.findall(r'"FINENESS = ([\d.]+)', text)]
    job = read_job(data_path("jobs", "old_viola"))
    assert len(found) > 8
    assert top_model(job.top, min(found), bar=job.bar).rib(job.bar).n_own > 0


@pytest.fixture(scope="module")
def plate():
    return free_plate(from_species("tonewood spruce", density=410), 0.3, 0.15, 0.003, count=4)


def test_sand_lies_where_the_plate_is_still(plate):
    """The twist of a plate is still along both its middle lines, by symmetry."""
    ax = draw_plate_mode(plate, 0, Figure().subplots(), sand=True)
    x, y = ax.lines[0].get_data()
    assert len(x) > 500
    # In units of half a side the twist moves as the product of both distances from the middle.
    assert np.quantile(np.abs((x - 150) / 150 * (y - 75) / 75), 0.95) < 0.1
    assert ax.get_xlabel().endswith("mm")


def test_shades_lines_and_tap(plate):
    ax = draw_plate_mode(plate, 1, Figure().subplots(), tap=(0.1, 0.05))
    assert ax.lines[0].get_data() == ([100.0], [50.0])
    assert f"{plate.frequencies[1]:.0f} Hz" in ax.get_title()
    assert len(ax.collections) >= 2


def test_levels_are_those_of_the_tap(plate):
    tap = (0.1, 0.05)
    ax = draw_tap_levels(plate, tap, Figure().subplots())
    table = plate_tap(plate, tap)
    assert np.allclose(ax.lines[0].get_xdata(), table["f_hz"])
    assert np.allclose(ax.lines[0].get_ydata(), np.maximum(table["level_db"], -60))
    assert ax.get_ylabel() == "level, dB"


def test_a_stepper_draws_each_item_once():
    pytest.importorskip("ipywidgets")
    drawn = []
    items = {"3": 3.0, "6": 6.0}
    app = stepper("size, mm", items, lambda item, axes: drawn.append((item, len(axes))), panels=2)
    assert (app.item, drawn) == (3.0, [(3.0, 2)])
    app.slider.value = "6"
    assert (app.item, drawn[-1]) == (6.0, (6.0, 2))
    with pytest.raises(ValueError, match="at least one item"):
        stepper("size", {}, lambda item, axes: None)


def test_answers_are_folded_and_safe():
    shown = Answers({1: "3 < 4", 2: "yes"})
    page = shown._repr_html_()
    assert page.count("<details>") == page.count("</details>") == 2
    assert "<details open" not in page
    assert "3 &lt; 4" in page
    assert "yes" not in repr(shown)


def test_the_index_tells_what_is_missing(tmp_path):
    def write(name, *lines):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(json.dumps({"cells": [{"cell_type": "markdown", "source": list(lines)}]}))

    with pytest.raises(FileNotFoundError, match="no index"):
        notebook_index(tmp_path)
    write("index.ipynb", "# All\n", "[one](one.ipynb), [two](more/two.ipynb#part)")
    write("one.ipynb", "# First\n")
    write("more/two.ipynb", "# Second\n")
    write("more/three.ipynb", "no title")
    table = notebook_index(tmp_path).set_index("notebook")
    assert table.index.tolist() == ["more/three.ipynb", "more/two.ipynb", "one.ipynb"]
    assert table["title"].tolist() == ["", "Second", "First"]
    assert table.index[table["linked"]].tolist() == ["more/two.ipynb", "one.ipynb"]
