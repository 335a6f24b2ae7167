"""Cut list and seat as pages for the bench."""

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from platemodel.bench.kit import cautions
from platemodel.bench.layout.result import JobLayout
from platemodel.bench.sheets.blocks import heading, paragraph, ruled_table
from platemodel.instrument.side_view import OVERWIDTH, SAW_ROOM

MOST_ROWS = 36  # on a page; with a closer pitch every second station or so is left to the CSV tables


def cut_list_block(ax: Axes, result: JobLayout) -> Axes:
    """Heights and widths at stations, blank, ends, mass at each stage; returns the Axes."""
    cuts = result.cuts
    y = heading(ax, f"Cut list of the bar: {result.job.name}", (*result.origin, "All in mm and g."))
    show = pd.DataFrame(
        {
            "place": cuts.places,
            "from\nlower end": _text(1e3 * cuts.s, 0),
            "from\nupper end": _text(1e3 * (cuts.length - cuts.s), 0),
            "width": _text(1e3 * cuts.width, 1),
            "roughing\nheight": _text(1e3 * cuts.rough, 1),
            "final\nheight": _text(1e3 * cuts.final, 1),
            "bass\nflank": _text(1e3 * cuts.final_bass, 1),
            "treble\nflank": _text(1e3 * cuts.final_treble, 1),
            "plate\nthickness": _text(1e3 * cuts.plate, 1),
            "done": "",
        }
    )
    show, bold = _shown(show, result.cuts.places)
    step = min(5.6, 150.0 / len(show))
    y = ruled_table(ax, show, y - 7.0, [24, 18, 18, 15, 19, 16, 16, 16, 20, 22], step, bold)
    blank = cuts.blank
    lines = [
        f"Blank at least {_mm(blank.length)} long, {_mm(blank.height)} high, {_mm(blank.width)} wide: "
        f"{_mm(result.view.overlength)} beyond either end, {_mm(OVERWIDTH)} over the width, seat to saw "
        f"{_mm(SAW_ROOM)} outside the curve, one straight edge. Rings upright, split, no run-out.",
        "Mass: " + ", ".join(f"{k} {1e3 * v:.1f} g" for k, v in cuts.masses.items())
        + f" at {result.bar.wood.density:.0f} kg/m3 ({_section(result.bar)}).",
        *(
            f"{end.name.capitalize()} end: {_mm(end.height)} high at the very end, {_mm(end.run_height)} at "
            f"{_mm(end.run)} from it, so the free edge falls {np.degrees(end.fall):.1f}° to the "
            "plate. Face square to the plate, arrises broken; not thinner than this, and no knife into the "
            "plate."
            for end in cuts.ends
        ),
        "Order: height at the bridge line, ends, flanks, section. Bass and treble flank: the free edge is "
        "square to the sides, so a bevelled seat makes the flanks unequal (before rounding).",
    ]  # fmt: skip
    y = paragraph(ax, y, "Blank, mass, ends", lines)
    paragraph(ax, y, "Cautions", cautions.CUT_LIST)
    return ax


def seat_block(ax: Axes, result: JobLayout) -> Axes:
    """Heights of the inside surface and bevels at stations; returns the Axes."""
    seat = result.view.seat
    y = heading(
        ax, "Seat of the bar", (result.line, "Heights of the inside surface over the gluing plane, mm.")
    )
    table = seat.table()
    show = pd.DataFrame(
        {
            "place": result.cuts.places,
            "from\nlower end": _text(1e3 * seat.s, 0),
            "x from\nlower edge": _text(1e3 * seat.x, 1),
            "bass\nflank": _text(table["bass_flank_mm"], 2),
            "middle": _text(table["middle_mm"], 2),
            "treble\nflank": _text(table["treble_flank_mm"], 2),
            "seat over\nchord": _text(table["seat_over_chord_mm"], 2),
            **({"spring\ngap": _text(table["spring_gap_mm"], 2)} if seat.spring else {}),
            "bevel\n°": _text(table["bevel_deg"], 1),
            "slope\n°": _text(table["slope_deg"], 1),
        }
    )
    show, bold = _shown(show, result.cuts.places)
    step = min(5.6, 150.0 / len(show))
    widths = [24, 18, 20, 18, 18, 18, 20, *([18] if seat.spring else []), 15, 15]
    y = ruled_table(ax, show, y - 7.0, widths, step, bold)
    b, m, t = (1e3 * v for v in seat.lengths)
    spring = (
        f"Spring: {1e3 * seat.spring:.1f} mm of gap at each end, a parabola that touches in the middle of "
        "the bar; it is in the template and in 'seat over chord'. Whether to spring a bar at all is "
        "disputed: it pulls the ends of the plate down and may peel there, and both bar and plate creep."
        if seat.spring
        else "No spring."
    )
    lines = [
        f"Lengths along the curve: bass flank {b:.1f}, middle {m:.1f}, treble flank {t:.1f}.",
        "Bevel: out of square to the bar's sides, + when the seat is higher on the treble side. Slope: "
        "along the bar, + when the surface rises towards the upper end. Chord: straight line between both "
        "ends of the seat.",
        spring,
        "The curve follows from the arching and thickness put in, and is no better than they are: by the "
        f"job, {_known(result)} The fit is made with chalk on the plate, paring the bar only, from the "
        "middle out to both ends, until the chalk shows over the whole seat.",
    ]
    if result.bar.lean:
        lines.append(
            f"The bar leans {np.degrees(result.bar.lean):+.1f}° (+: free edge to the treble side); heights "
            "are up its leaning side, turned about the middle of the seat at the bridge line."
        )
    paragraph(ax, y, "Reading it", lines)
    return ax


def _section(bar):
    if bar.is_square:
        return "section square to the end"
    return f"profiled: square section; final: {100 * bar.section_fill:.0f} % of it"


def _known(result):
    """How far the arching and the thickness of the job may be off, and whether a bar may be sawn to them."""
    off = result.job.shape_errors
    text = f"arching {1e3 * off.arching:.2g} mm off at a place, thickness {1e3 * off.thickness:.2g} mm."
    if np.hypot(off.arching, off.thickness) > SAW_ROOM:
        return f"{text} That is more than is left at the saw: take the curve off the top before you saw."
    return f"{text} It brings the saw cut close."


def _text(values, digits):
    return [f"{v:.{digits}f}" for v in values]


def _mm(value):
    return f"{1e3 * value:.1f}"


def _shown(table, places):
    """Rows that have room on a page, the named ones among them, and which of them are named."""
    every = -(-len(table) // MOST_ROWS)
    keep = [k for k, p in enumerate(places) if p or k % every == 0]
    return table.iloc[keep], [n for n, k in enumerate(keep) if places[k]]
