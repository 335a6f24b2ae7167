"""First pages of the layout sheet: map of the tiles, conflicts, how to put it together, the distances."""

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from platemodel.bench.kit import cautions
from platemodel.bench.kit.colours import BAR_TINT, INK
from platemodel.bench.kit.mark_drawing import LEGEND
from platemodel.bench.kit.paper import PRINT_NOTE, from_inside
from platemodel.bench.kit.tones import sentence
from platemodel.bench.kit.typeset import Item, Slot, head, listed, write
from platemodel.bench.layout.result import JobLayout
from platemodel.bench.sheets.blocks import LEFT, heading, paragraph, ruled_table
from platemodel.bench.sheets.layout_drawing import INSIDE
from platemodel.bench.sheets.marks import loop
from platemodel.bench.sheets.tiles import Tiling, draw_map, map_box, map_width

HOW = (
    "Measure both 100 mm bars on every sheet. If one is off, the printer scaled: do not use the sheet.",
    "Trim each sheet on its frame along one edge, lay it on its neighbour cross on cross (same number).",
    "Check the long way: bridge line to upper and lower edge, and the three widths, against the top.",
    "All distances are straight across, with dividers or rule, not over the arch. Dots are divider points.",
)


def map_block(ax: Axes, result: JobLayout, tiles: Tiling, outline: np.ndarray) -> Axes:
    """Title, map of tiles, conflicts, how to put the sheets together; returns the Axes."""
    y = heading(ax, f"Layout of the bar: {result.job.name}", (INSIDE, PRINT_NOTE, *result.origin))
    tall = 128.0
    wide = map_width(tall, tiles, outline)
    if wide > 90.0:
        tall, wide = tall * 90.0 / wide, 90.0
    draw_map(ax, (LEFT, y - tall), tall, tiles, None, outline)
    _small_bar(ax, result, tiles, (LEFT, y - tall), tall)
    write(ax, LEFT, y - tall - 2.0, "map of the sheets, not to scale")
    right = LEFT + wide + 7.0
    slot = Slot(ax, right, y - 1.0, 30.0, 195.0 - right)
    if result.conflicts:
        items = [Item(sentence(f.message), "!", 3.2, alarm=True) for f in result.conflicts]
        slot.put([head("Conflicts (hatched on the sheets)", alarm=True), *items])
    else:
        words = (
            "The bar keeps clear of foot edge, eye, stem and ends as is usual (common practice, no source)."
        )
        slot.put([head("No conflict found"), Item(words)])
    odd = [f for f in result.job.findings if f.kind in ("sunk", "thin", "symmetry", "misfit")]
    if odd:
        slot.y -= 3.0
        slot.put([head("Worth a second look"), *listed([f.message for f in odd])])
    below = min(slot.y, y - tall - 8.0) - 2.0
    marks = (LEGEND,) if result.job.marks else ()
    below = paragraph(ax, below, "How to use it", [f"{k}. {h}" for k, h in enumerate((*HOW, *marks), 1)])
    paragraph(ax, below, "Cautions", cautions.LAYOUT)
    return ax


def _small_bar(ax, result, tiles, corner, height):
    """Bar on the map."""
    u0, v0, _, v1 = map_box(tiles, from_inside(result.job.top.outline.points))
    scale = height / (v1 - v0)
    x, inner, outer = result.bar.flanks(np.array([result.bar.x_start, result.bar.x_end]))
    ring = from_inside([(x[0], outer[0]), (x[1], outer[1]), (x[1], inner[1]), (x[0], inner[0])])
    loop(ax, corner + scale * (ring - [u0, v0]), fc=BAR_TINT, ec=INK, lw=0.5)


def distances_block(ax: Axes, result: JobLayout) -> Axes:
    """Table of distances; returns the Axes."""
    lines = (result.line, "Straight across in plan. Tick when marked and when checked.")
    y = heading(ax, "Distances for the dividers, mm", lines)
    rows = [(d.label, f"{1e3 * d.value:.1f}", "", "") for d in result.distances]
    table = pd.DataFrame(rows, columns=["between", "mm", "marked", "checked"])
    y = ruled_table(ax, table, y - 4.0, [128.0, 18.0, 18.0, 18.0], step=5.6)
    paragraph(ax, y, "One-seventh marks", [result.seventh_words])
    return ax
