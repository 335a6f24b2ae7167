"""The page of stop points: heights, weight, modes and stiffness at which to tap while cutting down."""

import textwrap

import numpy as np
from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.colours import INK
from platemodel.bench.kit.page import A4_UPRIGHT
from platemodel.bench.kit.paper import new_page
from platemodel.bench.kit.tones import cell
from platemodel.bench.pack.plan import Plan
from platemodel.instrument.bar_shape import usual_least_end
from platemodel.study.trimming.flex_stops import TOLD
from platemodel.study.trimming.stop_points import EVEN

LEFT = 15.0  # mm


def stop_sheet(plan: Plan) -> Figure:
    """Lay out the stop points: heights, weight, modes and stiffness at which to tap, with room to write.

    Parameters
    ----------
    plan : Plan
    """
    figure, ax = new_page(*A4_UPRIGHT)
    ax.text(LEFT, 281, f"Cutting down: {plan.job.name}", fontsize=13, weight="bold", color=INK, va="top")
    how = (
        "The wood was found from readings of this top."
        if plan.job.found_wood is not None
        else "Weigh, tap and flex the top without bar, run `wood --keep`, and it shrinks."
    )
    words = (
        "Heights are measured from the plate, under the bridge; what is left over the final height is "
        "the same all along.",
        "Even: the bar as glued, of one height from end to end, before its profile is planed.",
        f"± holds for 90 of 100 tops known as well as this one, as on the page of modes. {how}",
        "At each stop: brush it off, weigh it, hold and tap it as on the page of modes, flex it on three",
        "pegs, along and at the foot, as on the sheet of `platemodel flex`; write it down, then decide.",
    )
    for k, line in enumerate((*([cautions.INVENTED] * plan.job.invented), *words)):
        ax.text(LEFT, 272 - 4.2 * k, line, fontsize=7.5, color=INK, va="top")
    columns = [
        ("left on, mm", lambda r: "even" if r.stage == EVEN else f"{r.left_mm:.1f}"),
        ("height, mm", lambda r: f"{r.height_mm:.1f}"),
        ("bar, g", lambda r: f"{r.bar_g:.1f}"),
        *(
            (
                f"mode {n}, Hz",
                lambda r, n=n: _tone_band(getattr(r, f"f{n}_hz"), getattr(r, f"f{n}_band_hz")),
            )
            for n in (1, 2, 5)
        ),
        ("foot, N/mm", lambda r: f"{r.foot_n_per_mm:.0f}"),
        *((_flex_head(plan.stops, kind), lambda r, kind=kind: _sag(r, kind)) for kind in TOLD),
    ]
    x = LEFT + np.array([0, 19, 36, 48, 69, 91, 114, 132, 157])
    y = 242.0
    for (head, _), at in zip(columns, x, strict=True):
        ax.text(at, y, head, fontsize=7.5, style="italic", color=INK, va="bottom")
    for row in plan.stops.itertuples():
        y -= 8.0
        for (_, show), at in zip(columns, x, strict=True):
            ax.text(at, y, show(row), fontsize=8.5, color=INK, va="bottom")
        y -= 8.0
        ax.text(LEFT, y, "heard, weighed:", fontsize=7, style="italic", color=INK, va="bottom")
        for at in x[1:]:
            ax.plot([at, at + 11], [y - 0.5, y - 0.5], color=INK, lw=0.5)
        ax.plot([LEFT, 195], [y - 3.5, y - 3.5], color=INK, lw=0.3, ls=":")
        y -= 4.0
    y -= 8.0
    for part in (part for note in plan.modes.notes for part in textwrap.wrap(note, 110)):
        ax.text(LEFT, y, part, fontsize=8.5, weight="bold", color=INK, va="top")
        y -= 4.6
    _stop_words(ax, y - 1.0, usual_least_end(plan.job.top))
    return figure


def _flex_head(stops, kind):
    grams = stops[f"flex_{kind}_g"].iloc[0]
    return f"flex {kind}" if np.isnan(grams) else f"{kind}, {grams:.0f} g,\n1/100 mm"


def _sag(row, kind):
    """Write a reading of the gauge in hundredths of a millimetre, with its band."""
    sag, band = (100 * getattr(row, f"flex_{kind}_{what}") for what in ("mm", "band_mm"))
    return "too thin to flex" if np.isnan(sag) else f"{sag:.1f} ± {band:.1f}"


def _tone_band(f, band):
    return f"{f:.0f} ± {band:.0f}" if np.isfinite(f) else cell(f)


def _stop_words(ax, y, least_end):
    lines = (
        "Cutting goes one way only. Stop before the band says you must; one stroke of a scraper takes "
        "0.1 mm.",
        "If you hear more than predicted at every stage, wood or arch is stiffer than the model; if "
        "less, softer. `platemodel trim` corrects the model by what you heard and proposes the next careful "
        "cut.",
        f"Do not thin the ends below {1e3 * least_end:.1f} mm, and leave no step where the bar ends.",
        "Tones also follow weight, moisture and hold: keep to the same hold, place and room, and write the "
        "humidity down.",
    )
    for line in lines:
        for part in textwrap.wrap(line, 125):
            ax.text(LEFT, y, part, fontsize=7.5, color=INK, va="top")
            y -= 4.2
        y -= 1.0
