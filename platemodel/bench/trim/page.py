"""The page of trimming by tap: A4, sideways."""

import textwrap

import numpy as np
from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.colours import INK
from platemodel.bench.kit.page import LEFT, titled_page, write_head, write_table
from platemodel.bench.kit.taps_apart import taps_lines
from platemodel.bench.kit.tones import NONE, cell
from platemodel.bench.trim.plots import draw_mode_stages, draw_profile, mode_name
from platemodel.bench.trim.result import BAND, JobTrim, band_text, expectation_lines, lost_lines
from platemodel.study.trimming.tap_correction import MODES
from platemodel.wood.estimate import HALF_WIDTH

PITCH = 0.0145  # of the rows, share of the page's height


def trim_page(result: JobTrim) -> Figure:
    """Lay out the page.

    Parameters
    ----------
    result : JobTrim

    Returns
    -------
    matplotlib.figure.Figure
        Exactly A4, sideways; save it without a tight bounding box.
    """
    p, job = result.proposal, result.job
    figure = titled_page(f"Trimming by tap: {job.name}", cautions=cautions.TRIM, pitch=0.0135)
    stage = f"Stage {len(result.stages)}, {1e3 * result.height:.1f} mm under the bridge."
    note = f"{cautions.invented_note(job)} {stage}".strip()
    figure.text(0.96, 0.957, note, fontsize=8, ha="right", color=INK)
    head = f"{p.text[0].upper()}{p.text[1:]}."
    for k, line in enumerate(textwrap.wrap(head, 118)):
        figure.text(LEFT, 0.922 - 0.024 * k, line, fontsize=11, weight="bold", color=INK)
    if p.place:
        figure.text(LEFT, 0.897, f"{p.place.name}: {p.place.words}", fontsize=8, color=INK)
    draw_profile(result, figure.add_axes((0.085, 0.600, 0.885, 0.225)))
    for k, number in enumerate(MODES):
        ax = draw_mode_stages(result, number, figure.add_axes((0.06 + 0.318 * k, 0.315, 0.265, 0.175)))
        if k == 0:
            handles = dict(zip(*ax.get_legend_handles_labels()[::-1], strict=True))
        else:
            handles |= dict(zip(*ax.get_legend_handles_labels()[::-1], strict=True))
    figure.legend(handles.values(), handles.keys(), loc="upper center", bbox_to_anchor=(0.5, 0.552), ncols=7,
                  fontsize=7, frameon=False)  # fmt: skip
    _expected(figure, p, LEFT, 0.243)
    _places(figure, p, LEFT, 0.140)
    y = 0.243
    for line in (*taps_lines(result.taps, 400), *lost_lines(result), *expectation_lines(result)):
        for k, part in enumerate(textwrap.wrap(line.strip(), 104)):
            figure.text(0.415 + 0.008 * (k > 0), y, part, fontsize=7, color=INK)
            y -= 0.0165
    return figure


def _expected(figure, p, left, top):
    columns = (
        ("mode", 0.0, lambda r: mode_name(r.number)),
        ("now Hz", 0.085, lambda r: band_text(r.now_hz, HALF_WIDTH * r.now_sd_hz)),
        ("after Hz", 0.160, lambda r: band_text(r.after_hz, HALF_WIDTH * r.sd_hz) if p.depth else NONE),
        ("goal Hz", 0.235, lambda r: f"{r.goal_hz:.1f}" if np.isfinite(r.goal_hz) else ""),
        ("lowest bar Hz", 0.280, lambda r: band_text(r.least_hz, HALF_WIDTH * r.least_sd_hz)),
    )
    write_head(figure, f"Expect; {BAND}", left, top, 8)
    write_table(figure, columns, p.expected.itertuples(), left, top - PITCH, PITCH)


def _places(figure, p, left, top):
    columns = (
        ("place", 0.0, lambda r: r.place),
        ("room mm", 0.085, lambda r: f"{r.room_mm:.1f}"),
        *((f"mode {n} Hz", 0.135 + 0.055 * k, lambda r, n=n: cell(getattr(r, f"f{n}_hz"), "+.2f"))
          for k, n in enumerate(MODES)),
        ("stiffness %", 0.300, lambda r: f"{r.stiffness_percent:+.2f}"),
    )  # fmt: skip
    write_head(figure, "What 0.1 mm does at each place", left, top, 8)
    write_table(figure, columns, p.options.itertuples(), left, top - PITCH, PITCH)
