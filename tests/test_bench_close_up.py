"""The picture of bar and sound hole on a notebook page: its words fit and can be read, whatever the size."""

import pytest
from matplotlib.figure import Figure

from platemodel.bench.layout.result import job_layout
from platemodel.bench.notebook.close_up import draw_close_up
from platemodel.bench.notebook.own_bar import with_a_bar
from platemodel.bench.notebook.sliders import least_points, png
from platemodel.job import read_job
from tests.paper_faults import faults
from tests.unlike_jobs import UNLIKE


@pytest.mark.parametrize("kind", list(UNLIKE))
def test_words_beside_the_close_up_fit_and_can_be_read(kind, tmp_path):
    """On the sheets the same words are set for true size: there a cello's would be four points high here."""
    job, _ = with_a_bar(read_job(UNLIKE[kind](tmp_path)))
    layout = job_layout(job)
    figure = Figure(figsize=(9.2, 5.4))
    ax = draw_close_up(
        figure.subplots(), job.top, layout.bar, layout.distances, layout.conflicts, layout.post
    )
    before = {words: words.get_fontsize() for words in ax.texts}
    png(figure)
    assert before == {words: words.get_fontsize() for words in ax.texts}  # nothing had to be enlarged
    assert min(before.values()) == pytest.approx(least_points(9.2))
    assert list(faults(figure)) == []
    assert {"between the upper eyes", "bar to upper eye"} <= {
        t.get_text().partition(";")[0] for t in ax.texts
    }
