"""The two pages of trimming by tap: A4, sideways; the next cut, and what it rests on."""

import numpy as np
from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.old_bar_table import write_old_bar
from platemodel.bench.kit.sheet import Column, begun_sheet, write_head, write_items, write_table
from platemodel.bench.kit.taps_apart import taps_sentence
from platemodel.bench.kit.tones import NONE, signed
from platemodel.bench.kit.typeset import HEAD, LINE, TEXT, write_broken
from platemodel.bench.trim.plots import draw_mode_stages, draw_profile, mode_name
from platemodel.bench.trim.result import BAND, JobTrim, band_text, expectation_lines, lost_lines
from platemodel.study.trimming.tap_correction import MODES
from platemodel.wood.estimate import HALF_WIDTH

PROFILE = 52.0  # mm, height of the bar's picture without its figures
STAGES = 62.0  # mm, height of the pictures over the stages


def trim_pages(result: JobTrim) -> list[Figure]:
    """Lay out the pages."""
    return [_cut_page(result), _reasons(result)]


def _begun(result, what):
    stage = f"Stage {len(result.stages)}, {1e3 * result.height:.1f} mm under the bridge."
    notes = f"{cautions.invented_note(result.job)} {stage}".strip()
    return begun_sheet(f"{what}: {result.job.name}", notes, cautions.TRIM)


def _cut_page(result):
    p, sheet = result.proposal, _begun(result, "Trimming")
    ax, left, room = sheet.ax, sheet.left, sheet.room
    y = write_broken(ax, left, sheet.top, f"{p.text[0].upper()}{p.text[1:]}.", room, HEAD, bold=True)
    if p.place:
        y = write_items(ax, left, y, [f"{p.place.name[0].upper()}{p.place.name[1:]}: {p.place.words}."], room)
    y -= 3 * LINE[TEXT] + 2.0
    draw_profile(result, sheet.axes(left + 16.0, y - PROFILE, room - 18.0, PROFILE))
    y -= PROFILE + 14.0
    half = 0.5 * room - 5.0
    _expected(ax, left, y, half, p)
    right = left + half + 10.0
    y = write_head(ax, right, y, "Limits and guides")
    said = (
        *taps_sentence(result.taps),
        *lost_lines(result),
        *(line.strip() for line in expectation_lines(result)),
    )
    write_items(ax, right, y, (f"{s[0].upper()}{s[1:].rstrip('.')}." for s in said), sheet.right - right)
    return sheet.figure


def _expected(ax, x, y, room, p):
    columns = (
        Column("mode", lambda r: mode_name(r.number), right=False),
        Column("now, Hz", lambda r: band_text(r.now_hz, HALF_WIDTH * r.now_sd_hz)),
        Column("after, Hz", lambda r: band_text(r.after_hz, HALF_WIDTH * r.sd_hz) if p.depth else NONE),
        Column("goal, Hz", lambda r: f"{r.goal_hz:.1f}" if np.isfinite(r.goal_hz) else NONE),
        Column("lowest bar, Hz", lambda r: band_text(r.least_hz, HALF_WIDTH * r.least_sd_hz)),
    )
    y = write_head(ax, x, y, "Expect")
    y = write_table(ax, x, y, columns, p.expected.itertuples(), room)
    return write_items(ax, x, y - 1.0, [f"{BAND}."], room)


def _reasons(result):
    sheet = _begun(result, "Trimming, stage by stage")
    ax, left, room, y = sheet.ax, sheet.left, sheet.room, sheet.top
    wide = room / len(MODES)
    y -= 2 * LINE[TEXT] + 2.0
    handles = {}
    for k, number in enumerate(MODES):
        one = sheet.axes(left + 12.0 + wide * k, y - STAGES, wide - 16.0, STAGES)
        draw_mode_stages(result, number, one)
        handles |= dict(zip(*one.get_legend_handles_labels()[::-1], strict=True))
    place = (0.5, (sheet.top + 2.0) / ax.get_ylim()[1])
    sheet.figure.legend(handles.values(), handles.keys(), loc="upper center", bbox_to_anchor=place, ncols=7,
                        fontsize=TEXT, frameon=False)  # fmt: skip
    y -= STAGES + 14.0
    half = 0.5 * room - 5.0
    _places(ax, left, y, half, result.proposal)
    write_old_bar(ax, left + half + 10.0, y, result.old_bar, half, "planned")
    return sheet.figure


def _places(ax, x, y, room, p):
    columns = (
        Column("place", lambda r: r.place, right=False),
        Column("room, mm", lambda r: f"{r.room_mm:.1f}"),
        *(Column(f"mode {n}, Hz", lambda r, n=n: signed(getattr(r, f"f{n}_hz"))) for n in MODES),
        Column("stiffness, %", lambda r: signed(r.stiffness_percent)),
    )
    y = write_head(ax, x, y, "What 0.1 mm does at each place")
    return write_table(ax, x, y, columns, p.options.itertuples(), room)
